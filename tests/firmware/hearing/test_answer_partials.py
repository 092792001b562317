"""Looks at a player's free partials: level and pitch beside a louder answer."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.answer_lines import lines_of
from firmware.hearing.answer_partials import LOOKS, STEP, look, window_of
from firmware.units import cents_of, gain_of, ratio_of

RATE = 12_000.0
TIME = np.arange(1856) / RATE


def answer(hz: float, octave: str) -> np.ndarray:
    """Lines of an answer, of RMS 1 each."""
    return np.asarray(sum(np.sqrt(2) * np.cos(2 * np.pi * line * TIME + line) for line in lines_of(hz, octave)))


def player(hz: float, numbers: tuple[int, ...] = (1, 2, 3, 4, 5)) -> np.ndarray:
    """Partials of RMS 1 each."""
    return np.asarray(sum(np.sqrt(2) * np.cos(2 * np.pi * hz * n * TIME + n) for n in numbers))


@pytest.mark.parametrize("octave", ["same", "lower"])
@pytest.mark.parametrize("target", [87.3, 233.08, 622.0])
def test_the_pitch_of_a_player_is_read_beside_a_louder_answer(octave: str, target: float) -> None:
    rng = np.random.default_rng(4)
    hz = target * ratio_of(12.5)
    sound = player(hz) + gain_of(6.0) * answer(target, octave) + 0.01 * rng.standard_normal(len(TIME))
    lines = lines_of(target, octave)
    looks = look(sound, target, lines, lines, RATE)
    assert looks is not None
    assert set(looks.numbers) >= {2, 3}
    assert looks.hz is not None
    assert abs(cents_of(looks.hz / hz)) < 0.5
    looks = look(sound, hz, lines, lines, RATE)
    assert looks is not None
    free = [list(looks.numbers).index(number) for number in (2, 3)]
    assert 10 * np.log10(looks.power[:, free]) == pytest.approx(np.zeros((LOOKS, 2)), abs=1.0)
    assert looks.noise < 0.01


def test_an_answer_alone_leaves_the_free_partials_empty() -> None:
    for octave in ("same", "lower"):
        lines = lines_of(233.08, octave)
        looks = look(answer(233.08, octave), 233.08, lines, lines, RATE)
        assert looks is not None
        pair = np.isin(looks.numbers, (2, 3))
        assert looks.power[:, pair].sum(axis=1).max() < 10 ** (-40 / 10) * looks.own.min()


def test_a_note_that_ends_is_seen_within_four_looks() -> None:
    sound = player(300.0)
    end = len(sound) - 4 * STEP
    sound[end:] = 0.0
    looks = look(sound, 300.0, np.zeros(0), np.zeros(0), RATE)
    assert looks is not None
    assert looks.total[-1] < 0.2 * looks.total[2]


def test_without_a_free_partial_there_is_nothing_to_look_at() -> None:
    lines = np.arange(1, 20) * 200.0
    assert look(player(200.0), 200.0, lines, lines, RATE) is None


def test_noise_has_no_pitch_and_low_notes_have_long_windows() -> None:
    looks = look(np.random.default_rng(1).standard_normal(len(TIME)), 300.0, np.zeros(0), np.zeros(0), RATE)
    assert looks is not None
    assert looks.hz is None or abs(cents_of(looks.hz / 300.0)) < 60
    assert window_of(30.0, RATE) == window_of(41.0, RATE) > window_of(233.0, RATE)
