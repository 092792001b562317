"""The sheet's sentence on the sound level."""

from __future__ import annotations

from dataclasses import replace

from firmware.sheet.level_words import level_text
from firmware.sheet.rehearsal import Rehearsal, SoundLevel
from firmware.sheet.sheet import LEVEL, sheet_html

CALIBRATED = SoundLevel(3600.0, 84.6, 97.2, calibrated=True, dose=11.4, counted_s=3600.0)


def test_uncalibrated_levels_are_neither_db_a_nor_a_dose() -> None:
    text = level_text(SoundLevel(3600.0, -31.6, -18.2, calibrated=False))
    assert text.startswith("Uncalibrated: on average 32 dB below full scale")
    assert "%" not in text


def test_a_calibrated_level_has_both() -> None:
    assert level_text(CALIBRATED) == (
        "On average about 85 dB(A), the loudest moment 97 dB(A); 11 % of a day's recommended sound dose."
    )
    assert "less than 1 %" in level_text(replace(CALIBRATED, dose=0.2))
    assert "counted over 30:00" in level_text(replace(CALIBRATED, counted_s=1800.0))


def test_the_sheet_says_it_with_its_caution_or_not_at_all() -> None:
    page = sheet_html(Rehearsal(1, level=CALIBRATED))
    assert "Sound level" in page
    assert LEVEL in page
    assert "Local rules come first" in LEVEL
    assert "not a sound level meter" in LEVEL
    assert "Sound level" not in sheet_html(Rehearsal(1))
