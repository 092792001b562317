"""A pitch that moves inside the window, against the formula that made it."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.moving import may_move, moving

RATE = 12_000


def gliding(hz: float, cents: np.ndarray, partials: int, noise: float = 0.0) -> np.ndarray:
    """A tone whose pitch is so many cents from `hz` at each sample, at full partials."""
    phase = 2 * np.pi * hz / RATE * np.cumsum(2 ** (cents / 1200))
    sound = sum(np.cos(number * phase + number**2) / number for number in range(1, partials + 1))
    return sound + noise * np.random.default_rng(1).standard_normal(len(cents))


@pytest.mark.parametrize("hz", [116.54, 466.16, 880.0])
@pytest.mark.parametrize("turn", np.linspace(0, 2 * np.pi, 5, endpoint=False))
def test_a_vibrato_is_read_at_the_centre_of_the_window(hz: float, turn: float):
    time = (np.arange(928) - 463.5) / RATE
    cents = 20 * np.sin(2 * np.pi * 5.5 * time + turn)
    partials = int(5000 / hz)
    found = moving(gliding(hz, cents, partials, 1e-3), 2 * np.pi * hz / RATE, (2, partials))
    assert 1200 * np.log2(found.omega * RATE / (2 * np.pi) / hz) == pytest.approx(20 * np.sin(turn), abs=0.3)


def test_slope_and_bend_are_those_of_the_tone():
    place = (np.arange(928) + 0.5) / 464 - 1
    wanted = 1 + 0.004 * place - 0.003 * place**2
    found = moving(gliding(440.0, 1200 * np.log2(wanted), 8), 2 * np.pi * 440 / RATE, (2, 8))
    assert (found.slope, found.bend) == (pytest.approx(0.004, rel=0.01), pytest.approx(-0.003, rel=0.02))


def test_a_steady_tone_stays_steady():
    found = moving(gliding(440.0, np.zeros(928), 8), 2 * np.pi * 440.3 / RATE, (2, 8))
    assert found.omega * RATE / (2 * np.pi) == pytest.approx(440.0, abs=1e-3)
    assert abs(found.slope) + abs(found.bend) < 1e-5


def test_one_correction_tells_a_steady_tone_from_one_that_moves_by_a_few_cents():
    place = (np.arange(928) + 0.5) / 464 - 1
    omega = 2 * np.pi * 440 / RATE
    assert may_move(gliding(440.0, np.zeros(928), 8, 0.05), omega, 8) < 0.02
    assert may_move(gliding(440.0, 3 * place, 8, 0.05), omega, 8) > 0.43


def test_the_error_to_expect_is_that_of_many_trials():
    rng = np.random.default_rng(3)
    errors, expected = [], []
    for _ in range(40):
        sound = gliding(440.0, np.zeros(464), 6) + 0.3 * rng.standard_normal(464)
        found = moving(sound, 2 * np.pi * 440 / RATE, (6,))
        errors.append(found.omega * RATE / (2 * np.pi) / 440 - 1)
        expected.append(found.error)
    assert np.std(errors) == pytest.approx(np.mean(expected), rel=0.35)
