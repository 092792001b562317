"""Lines of our own answers: taken out of a sound, and for how long they count."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.answer_lines import MOST_RINGING, Ringing, lines_of, without_lines
from firmware.sound.snapshot import AnswerSound

RATE = 12_000.0
LENGTH = 928
TIME = np.arange(LENGTH) / RATE


def power_db(sound: np.ndarray) -> float:
    return 10 * np.log10(float(np.mean(sound**2)) + 1e-30)


@pytest.mark.parametrize("decay_db", [0.0, -50.0])
def test_an_answer_is_taken_out_while_it_sounds_and_while_it_rings(decay_db: float) -> None:
    lines = lines_of(262.2, "same")
    ring = 10 ** (decay_db * TIME / 20)
    own = ring * sum(np.cos(2 * np.pi * hz * TIME + number) for number, hz in enumerate(lines))
    assert power_db(without_lines(own, lines, RATE)) < power_db(own) - 30


def test_what_lies_beside_the_lines_stays_and_is_not_moved() -> None:
    lines = lines_of(233.08, "same")
    player = np.cos(2 * np.pi * 2 * 233.08 * 2 ** (20 / 1200) * TIME + 0.3)
    left = without_lines(player, lines, RATE)
    assert power_db(left - player) < power_db(player) - 25


def test_without_lines_nothing_is_done() -> None:
    assert np.array_equal(without_lines(TIME, np.zeros(0), RATE), TIME)


def test_lines_above_the_slow_stream_are_left_out() -> None:
    assert max(lines_of(1500.0, "same")) < 6000
    assert len(lines_of(5000.0, "same")) == 1


def test_an_answer_rings_for_a_while_and_is_then_forgotten() -> None:
    ringing = Ringing(3)
    assert not ringing.any
    ringing.step(AnswerSound(on=True, hz=200.0))
    ringing.step(AnswerSound(on=True, hz=300.0))
    assert ringing.targets() == (300.0, 200.0)
    assert set(ringing.lines()) == {*lines_of(200.0, "same"), *lines_of(300.0, "same")}
    for left in ((300.0, 200.0), (300.0,), ()):
        ringing.step(AnswerSound(on=False, hz=300.0))
        assert ringing.targets() == left
    assert not ringing.any
    assert len(ringing.lines()) == 0


def test_of_many_answers_the_newest_count() -> None:
    ringing = Ringing(100)
    for number in range(20):
        ringing.step(AnswerSound(on=True, hz=200.0 + number))
    assert ringing.targets() == tuple(219.0 - number for number in range(MOST_RINGING))
