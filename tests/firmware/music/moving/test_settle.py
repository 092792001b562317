"""The pitches of a chord by weighted least squares."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from firmware.music.moving.settle import FIRM, Stiffness, settled

JUST = np.array([0.0, 386.31, 701.96, 968.83])


def test_a_chord_that_nothing_holds_but_the_reference_stays_there():
    assert settled(JUST, [None] * 4, list(JUST)) == pytest.approx(JUST, abs=1e-9)


def test_no_tones_are_no_pitches():
    assert settled(np.zeros(0), [], []).shape == (0,)


def test_the_softer_the_chord_the_more_a_held_tone_keeps_its_place():
    before = [10.0, None, None, None]
    moves = [settled(JUST, before, list(JUST), Stiffness(chord=c, motion=1, reference=0.1))[0] for c in (10, 1, 0.1)]
    assert moves == sorted(moves)
    assert 0 < moves[0] < moves[-1] < 10


@given(
    just=st.lists(st.floats(-50, 50), min_size=2, max_size=6),
    moved=st.lists(st.floats(-50, 50) | st.none(), min_size=6, max_size=6),
)
def test_it_is_the_least_of_the_sum_of_squares(just, moved):
    # Oracle: scipy.optimize.minimize on the sum that the docstring states.
    target = np.array(just)
    before = moved[: len(just)]

    def total(pitches) -> float:
        pairs = sum(
            FIRM.chord * ((pitches[i] - pitches[j]) - (target[i] - target[j])) ** 2
            for i in range(len(just))
            for j in range(i)
        )
        held = sum(FIRM.motion * (p - b) ** 2 for p, b in zip(pitches, before, strict=True) if b is not None)
        return pairs + held + FIRM.reference * ((pitches - target) ** 2).sum()

    found = settled(target, before, just)
    assert total(found) <= minimize(total, target).fun + 1e-6
