"""What the drone makes of a snapshot: pitch for hours, levels, phases, and what it does with nonsense."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest

from firmware.sound.drone import HEADROOM_DB, MOST_TONES, SPACING, Drone, safe_gain, wanted_gains
from firmware.sound.snapshot import DroneSound, ToneSound

RATE = 48_000


def held(*hz: float, timbre: str = "plain") -> DroneSound:
    return DroneSound(on=True, tones=tuple(ToneSound(f) for f in hz), timbre=timbre, level_db=0.0, fade_seconds=0.005)


def warm(drone: Drone, sound: DroneSound, position: int) -> int:
    """Play until all gains rest; return the position after."""
    for _ in range(6):
        drone.follow(sound, position)
        drone.sound(position, 512)
        position += 512
    return position


@pytest.mark.parametrize("hours", [0, 1, 24])
def test_phase_is_exact_after_hours(hours: int):
    """Phase of the fundamental, fitted to 480 samples (an exact number of periods), against exact fractions."""
    hz = 100.0 * 2 ** Fraction(0)  # 100 Hz: its partials are orthogonal over 480 samples
    drone = Drone(RATE)
    start = hours * 3600 * RATE + 12_345
    at = warm(drone, held(float(hz)), start)
    sound = drone.sound(at, 480).astype(np.float64)
    fitted = np.angle(np.sum(sound * np.exp(-2j * np.pi * 100 * np.arange(480) / RATE))) / (2 * np.pi)
    spread = -0.006 * 100.0 * math.log1p(1.0)
    expected = float(Fraction(100 * at, RATE) % 1) + spread
    assert (fitted - expected + 0.5) % 1 - 0.5 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("hz", [58.270470189761241, 311.12698372208087, 987.7666025122483])
def test_an_hour_apart_the_phase_has_moved_by_exactly_so_many_cycles(hz: float):
    """0.01 cent would be 1200 cycles of error in an hour at 58 Hz times 5.8e-6, i.e. more than one whole cycle."""
    drone = Drone(RATE)
    at = warm(drone, held(hz), 0)
    times = np.arange(4096)
    basis = np.exp(2j * np.pi * hz * np.outer([1, 2, 3, 4], times) / RATE)
    design = np.concatenate([basis.real, -basis.imag]).T

    def phase(position: int) -> float:
        blocks = [drone.sound(position + step, 512) for step in range(0, 4096, 512)]
        fit = np.linalg.lstsq(design, np.concatenate(blocks).astype(np.float64), rcond=None)[0]
        return math.atan2(fit[4], fit[0]) / (2 * math.pi)

    hour = 3600 * RATE
    moved = phase(at + hour) - phase(at)
    exact = float(Fraction(hz) * hour / RATE % 1)
    assert (moved - exact + 0.5) % 1 - 0.5 == pytest.approx(0.0, abs=1e-5)


def test_power_is_the_same_however_many_tones_there_are():
    for count in (1, 2, 7, 64):
        drone = Drone(RATE)
        sound = held(*(100.0 + 37.7 * number for number in range(count)))
        at = warm(drone, sound, 0)
        samples = np.concatenate([drone.sound(at + step, 512) for step in range(0, 512 * 200, 512)])
        level = 20 * math.log10(np.std(samples) * math.sqrt(2))
        assert level == pytest.approx(HEADROOM_DB, abs=0.1)


def test_levels_are_relative_and_a_single_soft_tone_stays_soft():
    assert wanted_gains((ToneSound(100.0, -6.0),)) == {100.0: pytest.approx(0.5012, abs=1e-4)}
    pair = wanted_gains((ToneSound(100.0, 0.0), ToneSound(150.0, -6.0)))
    assert pair[150.0] / pair[100.0] == pytest.approx(0.5012, abs=1e-4)
    assert pair[100.0] ** 2 + pair[150.0] ** 2 == pytest.approx(1.0)


def test_tones_that_cannot_sound_are_left_out_and_equal_ones_added():
    odd = (math.nan, math.inf, -math.inf, 0.0, -5.0)
    assert wanted_gains(tuple(ToneSound(hz) for hz in odd)) == {}
    assert wanted_gains((ToneSound(100.0, math.nan), ToneSound(100.0, -math.inf))) == {}
    assert wanted_gains((ToneSound(100.0, -12.0), ToneSound(100.0, -12.0))) == {
        100.0: pytest.approx(2 * 0.2512, abs=1e-4)
    }
    assert len(wanted_gains(tuple(ToneSound(100.0 + n) for n in range(200)))) == MOST_TONES


@pytest.mark.parametrize(("level", "gain"), [(math.nan, 0.0), (-math.inf, 0.0), (math.inf, 100.0), (0.0, 1.0)])
def test_any_level_has_a_safe_gain(level: float, gain: float):
    assert safe_gain(level) == pytest.approx(gain)


def test_off_keeps_its_tones_while_it_fades_and_then_makes_nothing():
    drone = Drone(RATE)
    at = warm(drone, held(200.0), 0)
    drone.follow(DroneSound(on=False, level_db=0.0, fade_seconds=0.1), at)
    assert np.abs(drone.sound(at + 512, 512)).max() > 0.1
    assert drone.sound(at + 4800, 512) is None


def test_starts_at_once_with_the_new_tones_after_silence():
    drone = Drone(RATE)
    at = warm(drone, held(200.0), 0)
    drone.follow(DroneSound(on=False, fade_seconds=0.005), at)
    at += 512
    drone.follow(held(300.0), at)
    drone.sound(at, 512)
    assert drone._voices.hz.tolist() == [300.0]


def test_a_drone_without_tones_is_silent():
    drone = Drone(RATE)
    drone.follow(DroneSound(on=True), 0)
    assert drone.sound(0, 512) is None


def test_an_unknown_timbre_sounds_all_the_same():
    drone = Drone(RATE)
    at = warm(drone, held(200.0, timbre="kazoo"), 0)
    assert np.abs(drone.sound(at, 512)).max() > 0.1


def test_a_tone_that_comes_back_while_it_leaves_is_the_same_voice():
    drone = Drone(RATE)
    at = warm(drone, held(200.0, 300.0), 0)
    drone.follow(held(200.0, 400.0), at)
    drone.sound(at, 512)
    drone.follow(held(200.0, 300.0 * (1 + 1e-15)), at + 512)  # a rounding error away: still the same tone
    assert sorted(drone._voices.hz) == [200.0, 300.0, 400.0]
    at = warm(drone, held(200.0, 300.0), at + 512)
    assert sorted(drone._voices.hz) == [200.0, 300.0]


def test_changes_that_come_too_soon_wait_and_the_last_one_wins():
    drone = Drone(RATE)
    at = warm(drone, held(200.0), 0)
    drone.follow(held(300.0), at)
    for step in range(1, SPACING + 1):
        drone.follow(held(300.0 + step), at + step)
        drone.sound(at + step, 1)
    assert sorted(drone._voices.hz) == [200.0, 300.0, 300.0 + SPACING]


def test_the_worst_run_of_changes_holds_a_bounded_number_of_voices():
    drone, most = Drone(RATE), 0
    for at in range(0, 20_000, 64):
        drone.follow(held(*(100.0 + at / 7 + n for n in range(MOST_TONES))), at)
        drone.sound(at, 64)
        most = max(most, len(drone._voices))
    assert 4 * MOST_TONES < most <= 6 * MOST_TONES
