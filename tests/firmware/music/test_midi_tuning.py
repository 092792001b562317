"""MIDI Tuning Standard messages."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.midi_tuning import (
    NOTE_STEP_CENTS,
    SCALE_STEP_CENTS,
    note_tuning,
    read_tuning,
    scale_tuning,
)


@given(st.lists(st.floats(-100, 100), min_size=12, max_size=12))
def test_a_scale_comes_back_within_half_a_step(cents):
    found = read_tuning(scale_tuning(cents)).scale
    # The highest step but one of the standard is 99.99 cents.
    assert found == pytest.approx(tuple(cents), abs=SCALE_STEP_CENTS / 2 + (0.013 if max(cents) > 99.98 else 1e-9))


@given(st.dictionaries(st.integers(0, 127), st.floats(0, 127.99), max_size=127))
def test_single_notes_come_back_within_half_a_step(notes):
    found = dict(read_tuning(note_tuning(notes)).notes)
    assert found.keys() == notes.keys()
    assert all(abs(found[note] - pitch) * 100 <= NOTE_STEP_CENTS / 2 + 1e-9 for note, pitch in notes.items())


def test_steps_are_those_of_the_standard():
    # MIDI Association, MIDI Tuning: 100 cents / 2^14 = 0.0061 cents; the 2-byte scale has 100 cents / 2^13.
    assert pytest.approx(0.0061, abs=1e-5) == NOTE_STEP_CENTS
    assert pytest.approx(0.012207, abs=1e-6) == SCALE_STEP_CENTS


def test_equal_temperament_is_the_middle_of_the_range():
    message = scale_tuning([0.0] * 12)
    assert message.hex(" ") == "f0 7f 7f 08 09 03 7f 7f " + "40 00 " * 12 + "f7"
    assert len(message) == 33


def test_a_just_third_over_c():
    # Helmholtz tr. Ellis, app. XX: 5:4 is 386.314 cents.
    message = note_tuning({64: 60 + 3.86314})
    assert message[:5].hex(" ") == "f0 7f 7f 08 02"
    ((note, pitch),) = read_tuning(message).notes
    assert note == 64
    assert (pitch - 60) * 100 == pytest.approx(386.314, abs=0.0061 / 2 + 1e-6)


@pytest.mark.parametrize(
    "call",
    [
        lambda: scale_tuning([0.0] * 11),
        lambda: scale_tuning([101.0] + [0.0] * 11),
        lambda: note_tuning({128: 60.0}),
        lambda: note_tuning({1: 128.0}),
        lambda: note_tuning({1: 60.0}, program=128),
        lambda: read_tuning(b""),
        lambda: read_tuning(b"\xf0\x7e\x7f\x08\x09\xf7"),
        lambda: read_tuning(note_tuning({1: 60.0})[:-2] + b"\xf7"),
    ],
)
def test_what_is_outside_is_refused(call):
    with pytest.raises(OutOfRangeError):
        call()


@given(st.binary(max_size=60))
def test_any_bytes_are_read_or_refused(data):
    with contextlib.suppress(OutOfRangeError):
        read_tuning(b"\xf0\x7f\x7f\x08" + data + b"\xf7")
