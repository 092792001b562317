"""An invented rehearsal for the tests of the sheet."""

from collections.abc import Callable

import pytest

from firmware.sheet.rehearsal import HeldNote, KeySpan, Rehearsal, TakeNote, TakePart


def note(
    start: float,
    degree: str,
    cents: float,
    settled: float | None = None,
    *,
    beats: float | None = None,
    length: float = 2.0,
):
    """A held note with the fields that the figures look at."""
    return HeldNote(
        start, start + length, degree, "D4", "E4", cents, 1.5, beats, settled, "B♭ major", section="clarinet in B♭"
    )


@pytest.fixture(name="note", scope="session")
def _note() -> Callable[..., HeldNote]:
    return note


@pytest.fixture
def rehearsal():
    """Ninety seconds: two keys, six notes, two takes."""
    return Rehearsal(
        number=42,
        title="Warm-up & chorale",
        date="2026-11-25",
        seconds=90.0,
        keys=(KeySpan(0.0, "B♭ major", sounding=False), KeySpan(5.0, "B♭ major"), KeySpan(60.0, "E♭ major", "equal")),
        notes=(
            note(6.0, "3", 14.0, beats=2.1),
            note(10.0, "3", 12.0),
            note(14.0, "3", 3.0, 1.2, beats=0.4),
            note(20.0, "1", -1.0, 0.4),
            note(24.0, "♭7", -22.0),
            note(30.0, "5", 0.4, 0.6),
        ),
        takes=(
            TakeNote(1, 30.0, 20.0, ((4.5, "Letter A"), (12.0, "again")), (TakePart("take-01.flac", 20.0),)),
            TakeNote(2, 70.0, 10.0, parts=(TakePart("take-02.flac", 10.0),)),
        ),
        settings=(("tonic", "Bb"), ("drone_level", "-18 dB")),
        tolerance=5.0,
        reading="clarinet in B♭",
    )
