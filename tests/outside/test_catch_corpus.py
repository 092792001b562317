"""The catch against Bach's chorales as music21 has them, and against sampled instruments (FluidR3)."""

from __future__ import annotations

import shutil
import warnings

import pytest

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # music21's own imports warn
    from tests.speed.catch import (
        INSTRUMENTS,
        SOUNDFONT,
        chorales,
        is_right,
        key_of_notes,
        measure_keys,
        notes_of,
        one_note,
    )

needs_soundfont = pytest.mark.skipif(
    not SOUNDFONT.exists() or shutil.which("fluidsynth") is None, reason="fluidsynth or fluid-soundfont-gm is missing"
)


def test_keys_from_notes_are_right_at_least_as_often_as_music21() -> None:
    rows = [(is_right(key_of_notes(notes), truth), guess == truth) for notes, truth, guess in chorales(48)]
    assert len(rows) >= 40
    assert sum(ours for ours, _ in rows) >= sum(theirs for _, theirs in rows)


@pytest.mark.soundfont
@needs_soundfont
@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_the_tonic_of_one_sampled_note(instrument: str) -> None:
    for midi, sound in notes_of(instrument, step=5):
        caught, seconds = one_note(sound)
        assert caught is not None
        assert caught.key.tonic.semitones == midi % 12, midi
        assert seconds is not None
        assert seconds <= 1.5


@pytest.mark.long
@pytest.mark.soundfont
@pytest.mark.timeout(600)
@needs_soundfont
def test_keys_from_sound_are_right_at_least_as_often_as_music21_from_notes() -> None:
    figures = measure_keys(60)
    assert float(str(figures["ours_from_sound_percent"])) >= float(str(figures["music21_from_notes_percent"]))
