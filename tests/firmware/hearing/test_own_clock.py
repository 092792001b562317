"""Own sound on the microphone's clock."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.own_clock import AHEAD, JUMP, OwnClock, taps_at

RATE = 12_000.0
HOP = 480


def tone(hz: float, count: int) -> np.ndarray:
    return np.sin(2 * np.pi * hz * np.arange(count) / RATE)


def test_one_clock_reads_what_was_played_a_little_later() -> None:
    sound = np.random.default_rng(1).standard_normal(10 * HOP)
    clock = OwnClock(RATE)
    out = np.concatenate([clock.process(sound[i : i + HOP])[0] for i in range(0, len(sound), HOP)])
    np.testing.assert_array_equal(out[AHEAD:], sound[:-AHEAD])


@pytest.mark.parametrize("ppm", [100.0, -100.0, 7.0])
@pytest.mark.parametrize("hz", [220.0, 4500.0])
def test_a_tone_is_read_at_the_pitch_that_the_other_clock_gives_it(ppm: float, hz: float) -> None:
    clock = OwnClock(RATE)
    clock.set(ppm, 400)
    sound = tone(hz, 60 * HOP)
    blocks = [clock.process(sound[i : i + HOP]) for i in range(0, len(sound), HOP)]
    assert not any(jumped for _, jumped in blocks)
    out = np.concatenate([block for block, _ in blocks])[2 * HOP :]
    place = (np.arange(len(out)) + 2 * HOP) / (1 + ppm * 1e-6) - 400
    want = np.sin(2 * np.pi * hz * place / RATE)
    assert 10 * np.log10(np.mean((out - want) ** 2) / np.mean(want**2)) < -75.0


def test_a_slow_microphone_catches_up_and_falls_back() -> None:
    clock = OwnClock(RATE)
    clock.set(-500.0, AHEAD)
    sound = tone(220.0, 200 * HOP)
    jumps = [clock.process(sound[i : i + HOP])[1] for i in range(0, len(sound), HOP)]
    # 500 ppm of 96000 samples are 48: one jump at once, as nothing is left, and none after that.
    assert jumps.count(JUMP) == 1
    assert set(jumps) == {0, JUMP}


def test_the_last_hops_can_be_read_again_on_the_clock_of_today() -> None:
    sound = tone(440.0, 40 * HOP)
    clock = OwnClock(RATE)
    for i in range(0, len(sound), HOP):
        clock.process(sound[i : i + HOP])
    clock.set(100.0, 50)
    again = np.concatenate(clock.again(10, HOP))
    place = len(sound) - 50 + (np.arange(10 * HOP) - 10 * HOP) / (1 + 100e-6)
    np.testing.assert_allclose(again, np.sin(2 * np.pi * 440.0 * place / RATE), atol=2e-4)


def test_a_nudge_reads_later() -> None:
    sound = tone(300.0, 20 * HOP)
    clock = OwnClock(RATE)
    out = []
    for i in range(0, len(sound), HOP):
        if i == 10 * HOP:
            clock.nudge(0.0, 0.25)
        out.append(clock.process(sound[i : i + HOP])[0])
    place = np.arange(10 * HOP, 20 * HOP) - AHEAD + 0.25
    np.testing.assert_allclose(np.concatenate(out[10:]), np.sin(2 * np.pi * 300.0 * place / RATE), atol=2e-4)


def test_taps_read_between_samples() -> None:
    for fraction in (0.0, 0.1234, 0.5, 1.0):
        taps = taps_at(fraction)
        places = np.arange(-AHEAD + 1, AHEAD + 1)
        for hz in (100.0, 4000.0):
            read = taps @ np.cos(2 * np.pi * hz * places / RATE)
            assert read == pytest.approx(np.cos(2 * np.pi * hz * fraction / RATE), abs=2e-4)
