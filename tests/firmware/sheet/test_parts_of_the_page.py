"""Written notes by section, chord checks, takes in several files, and the words for them."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace

from firmware.sheet.chords import chords_html
from firmware.sheet.columns import Column, Frame, columns
from firmware.sheet.figures import by_key, by_section, slices
from firmware.sheet.html import folded, scrolled, section, table
from firmware.sheet.rehearsal import ChordCheck, ChordMember, Rehearsal, TakeNote, TakePart, Trouble, Unread
from firmware.sheet.script import SCRIPT, policy
from firmware.sheet.section_notes import sections_html
from firmware.sheet.sheet import sheet_html
from firmware.sheet.style import style
from firmware.sheet.takes_list import takes_html
from firmware.sheet.words import degree_name, listed, signed


def plain(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_each_section_is_told_in_its_own_notes_low_to_high(rehearsal: Rehearsal) -> None:
    notes = tuple(
        replace(rehearsal.notes[0], section=name, written=written, median_cents=cents)
        for name, written, cents in (
            *[("clarinet in B♭", "E5", 12.0)] * 3,
            *[("clarinet in B♭", "B♭3", -9.0)] * 3,
            *[("", "D4", 1.0)] * 3,
            ("", "F4", 30.0),
        )
    )
    told = plain(sections_html(replace(rehearsal, notes=notes)))
    assert "Clarinet in B♭ E5 12 cents sharp and B♭3 9 cents flat." in told
    assert "Everyone, in concert pitch All within 5 cents in the middle." in told
    assert told.index("B♭3: 9 cents flat") < told.index("E5: 12 cents sharp")
    assert [one.degree for one in by_section(notes)["clarinet in B♭"]] == ["B♭3", "E5"]
    assert "F4" not in told  # held once
    assert sections_html(rehearsal.__class__(1)) == ""


def test_which_third_it_was_is_told_key_by_key(rehearsal: Rehearsal) -> None:
    in_f = tuple(replace(note, key="F major") for note in rehearsal.notes[:3] * 2)
    figures = by_key((*rehearsal.notes, *in_f), 3)
    assert list(figures) == ["B♭ major", "F major"]
    assert figures["F major"]["3"].count == 6
    page = plain(sheet_html(replace(rehearsal, notes=(*rehearsal.notes, *in_f))))
    assert "key 3 B♭ major +12 F major +12" in page


def test_the_degrees_that_the_box_answered_are_counted(rehearsal: Rehearsal) -> None:
    told = plain(sheet_html(replace(rehearsal, answers=("3", "♭7", "3"))))
    assert "The box answered 3 notes with its target: third 2 times and minor seventh once." in told
    assert "answered" not in plain(sheet_html(rehearsal))


def check(cents: float | None, level: str = "even") -> ChordCheck:
    return ChordCheck(
        61.0, 2.0, "B♭ major", "1", (ChordMember("3", "D", cents, level), ChordMember("1", "B♭", 0.2, "even"))
    )


def test_checks_of_a_chord_are_told_together_and_one_by_one() -> None:
    told = plain(chords_html(Rehearsal(1, chords=(check(10.0, "soft"), check(14.0, "soft"), check(None)))))
    assert "B♭ major 3 1 0; 3 +12 soft" in told
    assert "1:01 B♭ major 2.0 s 3 +10 soft; 1 0" in told
    assert "3 –; 1 0" in told
    assert chords_html(Rehearsal(1)) == ""


def test_a_chapter_leads_into_the_file_that_holds_it() -> None:
    parts = (TakePart("take-01.flac", 100.0), TakePart("take-01-2.flac", 50.0))
    take = TakeNote(1, 0.0, 150.0, ((30.0, "A"), (100.0, "B"), (149.99, "C"), (900.0, "D")), parts)
    page = takes_html(Rehearsal(1, takes=(take,)))
    jumps = re.findall(r'data-player="([^"]+)" data-at="([^"]+)"', page)
    assert jumps == [("take-1-1", "30.000"), ("take-1-2", "0.000"), ("take-1-2", "49.950"), ("take-1-2", "49.950")]
    assert "Take 1, part 2, from 1:40" in plain(page)


def test_the_policy_names_exactly_the_script_and_the_style_of_the_page(rehearsal: Rehearsal) -> None:
    page = sheet_html(rehearsal)
    (told,) = re.findall(r'Content-Security-Policy" content="([^"]+)"', page)
    for tag in ("script", "style"):
        (inside,) = re.findall(rf"<{tag}>(.*?)</{tag}>", page, flags=re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in told
    assert told.startswith("default-src 'none';")
    assert policy(style()) == told
    assert "http" not in SCRIPT


def test_what_went_wrong_is_told_in_the_words_of_the_box() -> None:
    troubles = (Trouble(61.0, "stick-out"), Trouble(70.0, "stick-out"), Trouble(80.0, "<odd>"))
    told = plain(sheet_html(Rehearsal(1, troubles=troubles, unread=(Unread("a", 1), Unread("b", 2)))))
    assert "There is no USB stick" in told
    assert "2 times, first at 1:01" in told
    assert "&lt;odd&gt; once, first at 1:20" in told
    assert "1 line of a and 2 lines of b could not be read. All the others were used." in told


def test_degrees_are_called_as_musicians_call_them() -> None:
    named = {
        "1": "tonic",
        "3": "third",
        "♭3": "minor third",
        "♯4": "sharp fourth",
        "♭7": "minor seventh",
        "?": "degree ?",
    }
    assert {degree: degree_name(degree) for degree in named} == named
    assert degree_name("9") == "degree 9"


def test_small_words() -> None:
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert (signed(0.04), signed(-3.0), signed(2.26, 1)) == ("0", "−3", "+2.3")


def test_pieces_escape_what_they_hold() -> None:
    nasty = "<script>"
    row = (nasty, nasty)
    for piece in (section(nasty, kind="x"), table(nasty, row, (row,), nasty), scrolled("", nasty), folded(nasty, "")):
        assert nasty not in piece
    assert nasty not in columns(Frame("x", nasty, (nasty, "")), [Column(nasty, 0, 0, 0, nasty, nasty)])


def test_the_line_through_the_notes_leaves_out_stretches_with_few(rehearsal: Rehearsal) -> None:
    assert slices(rehearsal, 3, 3) == ((0.0, 30.0, 3.0),)
    assert len(slices(rehearsal, 3, 1)) == 2
