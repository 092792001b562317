"""The registry of instruments."""

from __future__ import annotations

import pytest

from firmware.music.instruments import INSTRUMENTS, Instrument
from firmware.music.notes import LETTER_SEMITONES


def test_names_and_titles_differ_and_concert_comes_first() -> None:
    assert INSTRUMENTS[0].name == "concert"
    assert len({instrument.name for instrument in INSTRUMENTS}) == len(INSTRUMENTS)
    assert len({instrument.title for instrument in INSTRUMENTS}) == len(INSTRUMENTS)


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda instrument: instrument.name)
def test_letters_and_semitones_make_an_interval_of_the_trade(instrument: Instrument) -> None:
    octaves, letters = divmod(instrument.steps, 7)
    size = instrument.semitones - 12 * octaves
    assert size - LETTER_SEMITONES[letters] in ((0,) if letters in (0, 3, 4) else (0, -1))


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda instrument: instrument.name)
def test_the_badge_says_what_is_read(instrument: Instrument) -> None:
    assert (instrument.badge == "") is (instrument.semitones == 0)
    letter = {0: "C", 2: "B♭", 3: "A", 5: "G", 7: "F", 9: "E♭", 10: "D"}[instrument.semitones % 12]
    assert instrument.badge == f"in {letter}" or (letter == "C" and instrument.badge in ("", "8va", "8vb", "15ma"))
