"""Chords that move, on chorales of the music21 corpus; `tests/speed/moving.py` does the same on all of them."""

from __future__ import annotations

import pytest

pytest.importorskip("music21", reason="music21 is in the extra 'tests'")

from tests.speed.moving import by_choice, chorales, fixed


@pytest.fixture(scope="module")
def pieces():
    return list(chorales(4))


def test_least_motion_stays_just_and_at_home(pieces):
    found = by_choice("least", pieces)
    assert found["off_just_p95_cents"] < 1
    assert found["drift_at_end_worst_cents"] < 8


def test_common_tones_held_are_just_and_drift(pieces):
    # The drift of just chords through shared tones is what Stange, Wick & Hinrichsen (2018) set out to mend.
    found = by_choice("common", pieces)
    assert found["off_just_mean_cents"] < 1e-6
    assert found["drift_at_end_worst_cents"] > 20
    assert found["common_tone_moves_mean_cents"] < by_choice("tonic", pieces)["common_tone_moves_mean_cents"]


def test_the_tonic_held_never_drifts(pieces):
    found = by_choice("tonic", pieces)
    assert found["drift_widest_cents"] == found["off_just_mean_cents"] == 0


def test_twelve_fixed_tones_are_far_from_just(pieces):
    # Common practice: an equal major third is 13.7 cents wide, a minor third 15.6 narrow, a fifth 2 narrow.
    equal = fixed(pieces, lambda _: [100.0 * n for n in range(12)])
    assert 8 < equal["off_just_mean_cents"] < 12
    assert equal["off_just_p95_cents"] == pytest.approx(15.641, abs=0.01)
