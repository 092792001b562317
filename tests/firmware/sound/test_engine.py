"""The whole engine: any block, any setting, for as long as the box is on."""

from __future__ import annotations

import math
import tracemalloc
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.sound.engine import SOFT_START_SECONDS, Engine
from firmware.sound.percussion import sound_of
from firmware.sound.snapshot import DroneSound, PulseSound, ReplaySound, Sound, ToneSound
from firmware.sound.timbres import TIMBRES
from firmware.units import BLOCK, RATE, Samples

CEILING = 10 ** (-1 / 20)
FIXTURE = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

LEVELS = st.one_of(st.floats(-60, 24), st.just(24.0), st.floats(allow_nan=True, allow_infinity=True))
TONES = st.lists(
    st.builds(ToneSound, st.one_of(st.floats(20, 5000), st.floats(allow_nan=True, allow_infinity=True)), LEVELS),
    max_size=70,
).map(tuple)
FADES = st.one_of(st.floats(0, 1), st.floats(allow_nan=True))
TIMBRE_NAMES = st.sampled_from([*(timbre.name for timbre in TIMBRES), "none of these"])
DRONES = st.builds(DroneSound, st.booleans(), TONES, TIMBRE_NAMES, LEVELS, FADES)
STARTS = st.one_of(st.floats(-(10**6), 10**6), st.floats(allow_nan=True, allow_infinity=True))
PROGRAMS = st.sampled_from([Program(), Program(curve=Curve(75.0), subdivision=6, cross=(4, 3)), Program(length=1)])
PULSES = st.builds(PulseSound, st.booleans(), STARTS, PROGRAMS, st.integers(0, 2), LEVELS)


def at_tempo(quarters: float) -> Program:
    """Four plain beats in a bar."""
    return Program(curve=Curve(quarters / 4))


SOUNDS = st.builds(
    Sound, DRONES, PULSES, st.builds(ReplaySound, st.booleans(), st.integers(0, 2), LEVELS), master_db=LEVELS
)


@settings(FIXTURE, max_examples=40)
@given(
    st.lists(st.tuples(SOUNDS, st.lists(st.integers(0, 1500), min_size=1, max_size=4)), min_size=1, max_size=4),
    st.floats(0, 100),
)
def test_any_setting_stays_finite_and_below_minus_1_db(steps: list[tuple[Sound, list[int]]], loud: float):
    engine = Engine()
    engine.position = 20_000
    noise = np.random.default_rng(1).standard_normal(4000).astype(np.float32) * np.float32(loud)
    for number, (sound, blocks) in enumerate(steps):
        engine.sound = sound
        engine.feed(sound.replay.token, noise[: engine.replay_wants()], number % 2 == 0)
        for count in blocks:
            before = engine.position
            out = engine.process(np.zeros(count, np.float32))
            assert out.dtype == np.float32
            assert out.shape == (count,)
            assert engine.position == before + count
            assert np.abs(out).max(initial=0) <= CEILING


def test_sixty_four_tones_at_24_db_stay_below_minus_1_db(run: Callable[..., Samples]):
    engine = Engine()
    tones = tuple(ToneSound(50.0 * (1 + number / 3), 24.0) for number in range(64))
    engine.sound = Sound(DroneSound(on=True, tones=tones, timbre="reed", level_db=24.0), master_db=24.0)
    engine.process(np.zeros(0, np.float32))
    assert 0.8 < np.abs(run(engine, RATE)).max() <= CEILING


@pytest.mark.parametrize("timbre", [timbre.name for timbre in TIMBRES])
def test_the_default_level_leaves_the_limiter_alone(run: Callable[..., Samples], timbre: str):
    """At the level the box starts with, just chords of two octaves keep 3 dB below the ceiling; at 0 dB no harm."""
    for root in (58.27, 116.54, 174.61):
        for ratios in ((1.0, 2.0), (1.0, 1.25, 1.5, 2.0, 2.5, 3.0), (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5)):
            engine = Engine()
            drone = DroneSound(on=True, tones=tuple(ToneSound(root * ratio) for ratio in ratios), timbre=timbre)
            engine.sound = Sound(drone)
            assert np.abs(run(engine, RATE)).max() < CEILING * 10 ** (-3 / 20)


@pytest.mark.parametrize("block", [1, 31, 100, 480, 2048, 20_000])
def test_block_size_does_not_matter(run: Callable[..., Samples], block: int):
    def played(size: int) -> Samples:
        engine = Engine()
        engine.sound = Sound(
            DroneSound(on=True, tones=(ToneSound(116.54), ToneSound(174.81)), level_db=-6.0),
            PulseSound(on=True, start=1000, program=at_tempo(200.0)),
            ReplaySound(on=True, token=1),
        )
        engine.feed(1, np.full(9000, 0.25, np.float32), True)  # noqa: FBT003 - as drivers call it
        return run(engine, 20_000, size)

    assert played(block) == pytest.approx(played(512), abs=2e-6)


def test_power_on_rises_from_zero(run: Callable[..., Samples], holding: Callable[..., Sound]):
    engine = Engine()
    engine.sound = holding(100.0, fade_seconds=0.005)
    samples = run(engine, RATE)
    peaks = [np.abs(samples[at : at + 480]).max() for at in range(0, 19_200, 480)]
    end = round(SOFT_START_SECONDS * RATE) // 480
    assert peaks[0] < 0.001
    assert (np.diff(peaks[: end - 2]) > -1e-4).all()
    assert peaks[end + 1] == pytest.approx(max(peaks), rel=0.01)


def test_silence_is_exactly_zero(run: Callable[..., Samples]):
    assert not run(Engine(), 5000).any()


def test_sound_leaves_late_by_the_latency_and_by_no_more(run: Callable[..., Samples]):
    engine = Engine()
    run(engine, 20_000)
    engine.sound = Sound(pulse=PulseSound(on=True, start=21_000, program=at_tempo(60.0), level_db=-12.0))
    samples = run(engine, 4000)
    begin = 1000 + engine.latency
    assert engine.latency == 96
    assert not samples[:begin].any()
    click = sound_of("high", RATE) * np.float32(10 ** (-12 / 20))
    assert samples[begin : begin + 1440] == pytest.approx(click, abs=1e-7)


def test_clicks_an_hour_later_are_on_their_sample(run: Callable[..., Samples]):
    """Tempo 97: 5820 beats later; the exact time is a whole sample."""
    engine = Engine()
    engine.position = 3600 * RATE - 500
    engine.sound = Sound(pulse=PulseSound(on=True, start=0, program=at_tempo(97.0)))
    samples = run(engine, 1000)
    assert np.flatnonzero(samples)[0] == 500 + engine.latency


def test_replay_goes_through_the_mixer_and_says_when_it_is_done(run: Callable[..., Samples]):
    engine = Engine()
    run(engine, 20_000)
    assert engine.replay_wants() > RATE
    assert engine.feed(5, np.full(1000, 0.5, np.float32)) == 1000
    engine.sound = Sound(replay=ReplaySound(on=True, token=5))
    assert run(engine, 600)[500] == pytest.approx(0.5)
    assert not engine.replay_done(5)
    run(engine, 1000)
    assert engine.replay_missing == 600
    engine.feed(5, np.zeros(0, np.float32), True)  # noqa: FBT003 - as drivers call it
    run(engine, 512)
    assert engine.replay_done(5)


def test_memory_does_not_grow(run: Callable[..., Samples], holding: Callable[..., Sound]):
    """A busy quarter of a minute of changes, after as much to warm up, keeps less than 100 kB more."""
    engine = Engine()

    def busy() -> None:
        for step in range(200):
            sound = holding(*(110.0 * 2 ** ((step * 7 + n) % 24 / 12) for n in range(4)), timbre="reed")
            engine.sound = replace(sound, pulse=PulseSound(on=True, start=0, program=at_tempo(100.0 + step)))
            run(engine, 7 * BLOCK)
            engine.feed(step, np.zeros(1000, np.float32))

    tracemalloc.start()
    try:
        busy()
        before = tracemalloc.get_traced_memory()[0]
        busy()
        after = tracemalloc.get_traced_memory()[0]
    finally:
        tracemalloc.stop()
    assert after - before < 100_000


def test_odd_blocks_are_survived():
    engine = Engine()
    assert engine.process(np.zeros(0, np.float32)).shape == (0,)
    assert engine.process(np.full(512, math.nan, np.float32)).tolist() == [0.0] * 512


def test_another_rate_keeps_pitch_and_ceiling(run: Callable[..., Samples], holding: Callable[..., Sound]):
    engine = Engine(44_100)
    engine.sound = holding(441.0, level_db=12.0)
    samples = run(engine, 44_100)
    spectrum = np.abs(np.fft.rfft(samples[-22_050:] * np.hanning(22_050)))
    assert np.argmax(spectrum) * 2 in (440, 442)
    assert np.abs(samples).max() <= CEILING


def test_the_clicks_share_is_what_the_pulse_adds(holding: Callable[..., Sound]):
    pulse = PulseSound(on=True, start=0.4 * RATE, program=at_tempo(240.0), run=1)
    held = holding(116.5, level_db=-20.0)
    with_click, without = Engine(), Engine()
    with_click.sound, without.sound = replace(held, pulse=pulse), held
    silence = np.zeros(BLOCK, np.float32)
    for _ in range(150):
        both, share = with_click.process(silence), with_click.clicked.read(BLOCK)
        np.testing.assert_allclose(both - share, without.process(silence), atol=1e-6)
        assert len(share) == BLOCK
