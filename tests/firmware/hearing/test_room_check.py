"""The room check against rooms that are known: response, delay, reverberation, noise, clocks, and its own error."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from firmware.hearing.room import Room
from firmware.hearing.room_check import RoomCheckError, find_test, learn_room
from firmware.hearing.room_clock import on_other_clock
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, SweepSound, ToneSound
from firmware.sound.sweep import SWEEP_SECONDS
from firmware.units import RATE, Samples, gain_of
from hardware.simulated.room import pink_noise, response

LEAD = 48_000
DELAY = 1536 + 576
HZ = np.geomspace(45.0, 6000.0, 300)


@lru_cache(maxsize=1)
def own() -> Samples:
    """What the engine plays for a room check, a second of silence before it."""
    engine = Engine()
    engine.sound = Sound(sweep=SweepSound(on=True, start=LEAD, level_db=-18.0))
    blank = np.zeros(500, np.float32)
    return np.concatenate([engine.process(blank) for _ in range(540)])


def impulse(rt60: float, seed: int = 5) -> np.ndarray:
    return response(rt60, DELAY, -3.0, np.random.default_rng(seed)).astype(np.float64) * gain_of(-10.0)


def through(sound: np.ndarray, taps: np.ndarray) -> np.ndarray:
    size = 2 ** int(np.ceil(np.log2(len(sound) + len(taps))))
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(taps, size), size)[: len(sound)]


def microphone(taps: np.ndarray, noise_db: float = -66.0, ppm: float = 0.0, seed: int = 1) -> Samples:
    heard = through(own().astype(np.float64), taps)
    if ppm:
        heard = on_other_clock(heard, -ppm)
    noise = pink_noise(1 << 19, noise_db, np.random.default_rng(seed))[: len(heard)]
    return (heard + noise).astype(np.float32)


def truth(taps: np.ndarray, hz: np.ndarray) -> np.ndarray:
    return np.exp(-2j * np.pi / RATE * np.outer(hz, np.arange(len(taps)))) @ taps


def removal_db(found: np.ndarray, true: np.ndarray) -> float:
    """How far lines of equal strength are taken down by the prediction, all together, in dB."""
    return float(10 * np.log10(np.mean(np.abs(true) ** 2) / np.mean(np.abs(found - true) ** 2)))


@pytest.mark.parametrize(("rt60", "least"), [(0.4, 44.0), (0.8, 41.5), (1.2, 40.0)])
def test_it_predicts_lines_as_well_as_it_says(rt60: float, least: float) -> None:
    taps = impulse(rt60)
    room = learn_room(microphone(taps), own(), RATE)
    true = truth(taps, HZ)
    removal = removal_db(room.response_at(HZ), true)
    assert removal > least
    stated = 10 * np.log10(np.mean(np.abs(true) ** 2) / np.mean(room.error_at(HZ) ** 2))
    assert removal == pytest.approx(stated, abs=1.5)
    assert room.rt60 == pytest.approx(rt60, rel=0.1)
    assert room.delay == pytest.approx(DELAY, abs=0.5)
    assert room.floor_db == pytest.approx(-66.0, abs=1.0)
    assert abs(room.clock_ppm) < 0.01
    assert not room.clipped


def test_without_noise_only_low_octaves_err() -> None:
    taps = impulse(0.6)
    room = learn_room(microphone(taps, -110.0), own(), RATE)
    high = HZ[HZ > 200]
    assert removal_db(room.response_at(high), truth(taps, high)) > 58.0
    assert removal_db(room.response_at(HZ), truth(taps, HZ)) > 48.0


def test_its_level_is_that_of_the_way() -> None:
    taps = np.zeros(4000)
    taps[3000] = 0.1
    room = learn_room(microphone(taps, -80.0), own(), RATE)
    assert room.level_db == pytest.approx(-20.0, abs=0.05)
    assert room.delay == pytest.approx(3000.0, abs=0.1)
    np.testing.assert_allclose(np.abs(room.response_at(HZ)), 0.1, rtol=0.01)
    assert float(room.removal_db(1000.0)[0]) > 50.0


@pytest.mark.parametrize(
    "ppm", [100.0, pytest.param(-37.0, marks=pytest.mark.long), pytest.param(400.0, marks=pytest.mark.long)]
)
def test_it_finds_how_far_the_clocks_are_apart(ppm: float) -> None:
    taps = impulse(0.8)
    room = learn_room(microphone(taps, ppm=ppm), own(), RATE)
    exact = 1e6 * (1.0 / (1.0 - ppm * 1e-6) - 1.0)
    assert room.clock_ppm == pytest.approx(exact, abs=0.03)
    assert room.clock_sd_ppm < 0.02
    moved = np.exp(-2j * np.pi / RATE * HZ * room.since * room.clock_ppm * 1e-6)
    assert removal_db(room.response_at(HZ), truth(taps, HZ) * moved) > 41.0


@pytest.mark.parametrize(("bend", "least"), [(0.3, 40.0), (1.5, 30.0)])
def test_a_loudspeaker_that_distorts_is_noticed_and_hardly_disturbs(bend: float, least: float) -> None:
    taps = impulse(0.5)
    clean = learn_room(microphone(taps), own(), RATE)
    sound = own().astype(np.float64)
    bent = through(sound + bend * sound**2, taps) + pink_noise(1 << 19, -66.0, np.random.default_rng(3))[: len(sound)]
    room = learn_room(bent.astype(np.float32), own(), RATE)
    assert clean.distortion_db < -55.0
    # A sine of peak p through x + b x^2 has a second harmonic of b p / 2.
    assert room.distortion_db == pytest.approx(20 * np.log10(bend * 0.126 / 2), abs=3.0)
    assert removal_db(room.response_at(HZ), truth(taps, HZ)) > least


def test_clipping_is_noticed() -> None:
    loud = np.clip(microphone(impulse(0.5)) * 30.0, -1.0, 1.0).astype(np.float32)
    assert learn_room(loud, own(), RATE).clipped


def test_a_room_without_silence_before_has_no_floor() -> None:
    taps = impulse(0.5)
    room = learn_room(microphone(taps)[LEAD:], own()[LEAD:], RATE)
    assert room.floor_db == -120.0
    assert removal_db(room.response_at(HZ), truth(taps, HZ)) > 41.0


def test_what_was_not_heard_is_not_learned() -> None:
    noise = pink_noise(1 << 19, -40.0, np.random.default_rng(2))[: len(own())]
    for mic in (noise, np.zeros(len(own()), np.float32), np.full(len(own()), np.nan, np.float32)):
        with pytest.raises(RoomCheckError, match="stand out"):
            learn_room(mic, own(), RATE)
    with pytest.raises(RoomCheckError, match="as long"):
        learn_room(noise[: 2 * RATE], own(), RATE)


@pytest.mark.parametrize("kind", ["nothing", "short", "drone", "once", "noise"])
def test_own_sound_without_the_test_is_refused(kind: str) -> None:
    engine = Engine()
    engine.sound = Sound(DroneSound(on=True, tones=(ToneSound(116.54), ToneSound(233.08)), timbre="reed"))
    period = round(SWEEP_SECONDS * RATE)
    start = int(np.flatnonzero(own())[0])
    sounds = {
        "nothing": np.zeros(RATE),
        "short": own()[start : start + RATE // 2],
        "drone": np.concatenate([engine.process(np.zeros(500, np.float32)) for _ in range(480)]),
        "once": np.concatenate([own()[start : start + period], np.zeros(RATE)]),
        "noise": np.random.default_rng(1).standard_normal(5 * RATE),
    }
    with pytest.raises(RoomCheckError, match="played twice"):
        find_test(np.asarray(sounds[kind], dtype=np.float64), RATE)


def test_the_test_is_found() -> None:
    test = find_test(own().astype(np.float64), RATE)
    assert test.period == round(SWEEP_SECONDS * RATE)
    assert LEAD <= test.start < LEAD + 600


def test_a_room_can_be_asked_for_one_frequency() -> None:
    room = learn_room(microphone(impulse(0.5)), own(), RATE)
    assert isinstance(room, Room)
    assert room.response_at(440.0).shape == (1,)
    assert room.response_at(440.0)[0] == pytest.approx(room.response_at(np.array([220.0, 440.0]))[1])
    with pytest.raises(ValueError, match="read-only"):
        room.impulse[0] = 1.0


def test_a_gain_that_was_turned_since_can_be_told() -> None:
    room = learn_room(microphone(impulse(0.5)), own(), RATE)
    louder = room.amplified(6.0)
    np.testing.assert_allclose(louder.response_at(HZ), room.response_at(HZ) * gain_of(6.0))
    np.testing.assert_allclose(louder.removal_db(HZ), room.removal_db(HZ))
    assert louder.level_db == pytest.approx(room.level_db + 6.0)
