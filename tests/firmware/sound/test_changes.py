"""Changes while it sounds, measured against the ideal cross-fade (see the docstring of firmware/sound/drone.py)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.sound.drone import CHANGE_SECONDS
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import Samples

RATE = 48_000
FADE = round(CHANGE_SECONDS * RATE)
WARM = 24_064
LATE = 4_096
B_FLAT = (116.5409, 145.6762, 174.8114)
F_MAJOR = (130.8128, 174.8114, 218.5142)
"""A triad that shares its F with the one before."""


def smooth(count: int) -> np.ndarray:
    """The ideal fade from 0 to 1 over `count` samples, from its published polynomial."""
    time = np.arange(count) / count
    return 10 * time**3 - 15 * time**4 + 6 * time**5


def changed(run: Callable[..., Samples], first: Sound, second: Sound, block: int = 512) -> np.ndarray:
    engine = Engine()
    engine.sound = first
    run(engine, WARM, block)
    engine.sound = second
    return run(engine, LATE, block)[engine.latency :].astype(np.float64)


def steady(run: Callable[..., Samples], sound: Sound) -> np.ndarray:
    engine = Engine()
    engine.sound = sound
    return run(engine, WARM + LATE)[WARM + engine.latency :].astype(np.float64)


def ideal(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    fade = np.ones(len(after))
    fade[:FADE] = smooth(FADE)
    return before * (1 - fade) + after * fade


def decibels(error: np.ndarray) -> float:
    return float(20 * np.log10(np.abs(error).max() + 1e-30))


@pytest.mark.parametrize("timbre", ["plain", "reed"])
@pytest.mark.parametrize("block", [64, 512, 4096])
def test_a_change_of_chord_is_the_ideal_cross_fade(
    run: Callable[..., Samples], holding: Callable[..., Sound], timbre: str, block: int
):
    first, second = holding(*B_FLAT, timbre=timbre), holding(*F_MAJOR, timbre=timbre)
    error = changed(run, first, second, block) - ideal(steady(run, first), steady(run, second))
    assert decibels(error) < -110  # asked for: -60 dB of full scale


def test_a_change_of_timbre_is_the_ideal_cross_fade(run: Callable[..., Samples], holding: Callable[..., Sound]):
    first, second = holding(*B_FLAT, timbre="flue"), holding(*B_FLAT, timbre="horn")
    error = changed(run, first, second) - ideal(steady(run, first), steady(run, second))
    assert decibels(error) < -110


@pytest.mark.parametrize("part", ["drone", "master"])
def test_a_change_of_level_is_the_ideal_cross_fade(
    run: Callable[..., Samples], holding: Callable[..., Sound], part: str
):
    first = holding(*B_FLAT)
    louder = replace(first, drone=replace(first.drone, level_db=0.0)), replace(first, master_db=-20.0)
    second = louder[part == "master"]
    error = changed(run, first, second) - ideal(steady(run, first), steady(run, second))
    assert decibels(error) < -110


def test_a_common_tone_goes_on_as_if_nothing_had_happened(run: Callable[..., Samples], holding: Callable[..., Sound]):
    """Subtract what comes and goes: what is left is the common tone alone, phase and all."""
    first, second = holding(*B_FLAT), holding(*F_MAJOR)
    rest = ideal(steady(run, first), steady(run, second))
    common = holding(174.8114, level_db=-6.0 - 20 * np.log10(np.sqrt(3)))
    others = changed(run, first, second) - steady(run, common)
    assert decibels(others - (rest - steady(run, common))) < -110


def test_on_and_off_follow_the_fade_that_was_asked_for(run: Callable[..., Samples], holding: Callable[..., Sound]):
    first = holding(*B_FLAT, fade_seconds=0.05)
    off = replace(first, drone=replace(first.drone, on=False))
    samples = changed(run, first, off)
    fade = np.zeros(len(samples))
    fade[:2400] = 1 - smooth(2400)
    assert decibels(samples - steady(run, first) * fade) < -110
    assert not samples[2401:].any()
    assert decibels(changed(run, off, first) - steady(run, first) * np.where(fade > 0, 1 - fade, 1.0)) < -110


@pytest.mark.parametrize("block", [1, 17, 128, 512])
def test_a_knob_spun_fast_splashes_nowhere(
    run: Callable[..., Samples],
    holding: Callable[..., Sound],
    high_band: Callable[[np.ndarray, float], float],
    block: int,
):
    """A change in every block for 0.1 s; the highest partial that sounds is at 1.5 kHz."""
    engine = Engine()
    sounds = [holding(*(hz * 2 ** (step / 12) for hz in B_FLAT)) for step in range(12)]
    engine.sound = sounds[0]
    run(engine, WARM)
    parts = []
    for step in range(4_800 // block):
        engine.sound = sounds[step * 7 % 12]
        parts.append(run(engine, block, block))
    samples = np.concatenate([*parts, run(engine, LATE)])
    assert high_band(samples, 4_000.0) < -95  # asked for: -60; measured -105, as for the steady sound
    assert high_band(np.concatenate([samples[:3000], -samples[:3000]]), 4_000.0) > -60  # and a click would be seen


def test_a_slide_of_a_few_cents_does_not_dip(run: Callable[..., Samples], holding: Callable[..., Sound]):
    """A tone that moves by 2 cents keeps its phase: the level of the cross-fade stays within 0.2 dB."""
    samples = changed(run, holding(174.8114), holding(174.8114 * 2 ** (2 / 1200)))
    windows = samples[: 4 * 824].reshape(4, 824)  # three periods each
    assert 20 * np.log10(np.std(windows, axis=1)) == pytest.approx(np.full(4, 20 * np.log10(np.std(windows))), abs=0.2)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(st.integers(1, 900), st.booleans(), st.integers(0, 11), st.sampled_from([-30.0, -12.0, -6.0])),
        min_size=2,
        max_size=15,
    )
)
def test_any_run_of_changes_stays_smooth_and_bounded(
    run: Callable[..., Samples],
    high_band: Callable[[np.ndarray, float], float],
    steps: list[tuple[int, bool, int, float]],
):
    engine = Engine()
    parts = []
    run(engine, 15_000)
    for count, on, step, level in steps:
        tones = tuple(ToneSound(hz * 2 ** (step / 12)) for hz in B_FLAT)
        engine.sound = Sound(drone=DroneSound(on=on, tones=tones, timbre="plain", level_db=level, fade_seconds=0.02))
        parts.append(run(engine, count))
    samples = np.concatenate([*parts, run(engine, LATE)])
    assert high_band(samples, 4_000.0) < -80
    assert len(engine._drone._voices) <= 6 * 3
