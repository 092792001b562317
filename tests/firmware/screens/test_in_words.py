"""The screen in the room's words: every page says them, and the widest of them fit their places."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firmware.music.keys import ALL_TONICS, Key, key_of
from firmware.music.languages import LANGUAGES
from firmware.music.languages.german import GERMAN
from firmware.music.modes import MODES
from firmware.music.note_names import NoteNames
from firmware.music.transposition import INSTRUMENTS
from firmware.screens.gallery import GALLERY
from firmware.screens.in_words import chord_sign, in_words
from firmware.screens.pages import PAGES
from firmware.screens.render import paint
from firmware.screens.view import ChordLine, DrillView, HeardNote, Rung, View

VIEWS = dict(GALLERY)
BY_LANGUAGE = pytest.mark.parametrize("language", LANGUAGES, ids=lambda one: one.name)


def _said(view: View, language: str, degrees: str = "movable-do", **values: str) -> View:
    return replace(view, values={**view.values, "note_names": language, "degree_names": degrees, **values})


def _in_key(view: View, key: Key, language: str) -> View:
    """A view with everything in one key."""
    named = _said(view, language, tonic=key.tonic.plain, mode=key.mode.name)
    rungs = tuple(Rung(key.label(n), f"{key.spell(n)}3", 100.0 * n, 100.0 * n, 1.0) for n in range(12))
    return replace(
        named,
        tonic=key.tonic.text,
        mode=key.mode.title,
        rungs=rungs,
        chord=tuple(f"{key.spell(n)}3" for n in (0, 4, 7, 10)),
    )


def test_everything_is_said_in_the_rooms_words() -> None:
    view = replace(
        VIEWS["ear-chord"],
        tonic="B",
        mode="minor",
        moving="Bbdim/F#",
        chord=("B2", "D3", "F♯3"),
        heard=HeardNote("B4", "C♯5", "3", 1.0, None, 0.0),
        answering="B♭4",
        badge="in B♭",
        rungs=(Rung("♯7", "A♯3", 1100.0, 1100.0, 1.0),),
        checked="B minor",
        checked_degrees=(ChordLine("3", 0.0, 1),),
        drill=DrillView(degree="6", note="B♭"),
    )
    said = in_words(_said(view, "german", tonic="B", mode="minor"))
    assert (said.tonic, said.moving, said.chord) == ("H", "B°/Fis", ("H2", "D3", "Fis3"))
    assert said.heard == HeardNote("H4", "Cis5", "me", 1.0, None, 0.0)
    assert (said.answering, said.badge, said.checked) == ("B4", "in B", "H minor")
    assert (said.rungs[0].degree, said.checked_degrees[0].degree, said.drill.big) == ("ti", "me", "le: B")
    plain = in_words(view)
    assert (plain.tonic, plain.badge, plain.checked, plain.rungs[0].degree) == ("B", "in B♭", "B minor", "♯7")


@BY_LANGUAGE
def test_every_key_fits_every_page(language: NoteNames) -> None:
    for page in PAGES:
        for mode in MODES if page.name in ("key", "chord") else MODES[:2]:
            for tonic in ALL_TONICS:
                view = _in_key(VIEWS["key-drone"], key_of(tonic, mode), language.name)
                assert paint(replace(view, page=page.name)).cuts == [], (page.name, tonic, mode.name)


@BY_LANGUAGE
def test_every_heard_note_fits(language: NoteNames) -> None:
    for tonic in ALL_TONICS:
        for semitones in range(12):
            key = key_of(tonic, "major")
            note = f"{key.spell(semitones)}5"
            heard = HeardNote(note, note, key.label(semitones), -38.0, 9.9, 100.0)
            view = replace(_in_key(VIEWS["ear-near"], key, language.name), heard=heard, badge="in E♭")
            assert paint(view).cuts == [], note
            assert paint(replace(view, answering=note)).cuts == [], note


@BY_LANGUAGE
def test_every_part_fits(language: NoteNames) -> None:
    for instrument in INSTRUMENTS:
        view = _said(VIEWS["key-reading"], language.name, reading=instrument.name)
        assert paint(replace(view, badge=instrument.badge)).cuts == [], instrument.name


def test_degrees_of_a_checked_chord_fit_as_syllables() -> None:
    assert paint(_said(VIEWS["ear-chord"], "fixed-do")).cuts == []
    assert paint(_said(VIEWS["ear-chord-hidden"], "fixed-do")).cuts == []


@BY_LANGUAGE
@pytest.mark.parametrize("degrees", ["figures", "movable-do"])
def test_every_picture_of_the_gallery_fits_in_every_language(language: NoteNames, degrees: str) -> None:
    for name, view in GALLERY:
        assert paint(_said(view, language.name, degrees)).cuts == [], name


def test_a_chord_is_written_as_by_hand() -> None:
    assert [chord_sign(text) for text in ("viio7", "Bbm7", "F#dim", "Caug", "Gmin")] == [
        "vii°7", "B♭m7", "F♯°", "C+", "Gm"]  # fmt: skip


def test_german_screens_show_no_english_b_flat() -> None:
    """H is B natural: no page of a German room may show a sign that only English has."""
    for name, view in GALLERY:
        said = in_words(_said(view, GERMAN.name))
        texts = (said.tonic, *said.chord, said.moving, said.answering, said.badge, said.checked.split(" ")[0])
        assert all("♭" not in text and "♯" not in text for text in texts if text != view.moving), name
