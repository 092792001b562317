"""Slower at the same pitch: length, pitch, attacks, level, any block size."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sound.stretch import Stretcher
from firmware.units import RATE, cents_of

SPEEDS = (0.5, 0.6, 0.75, 0.9)


def slowed(sound: np.ndarray, speed: float, block: int = RATE // 2) -> np.ndarray:
    stretcher = Stretcher(speed)
    pieces = [stretcher.process(sound[at : at + block].astype(np.float32)) for at in range(0, len(sound), block)]
    return np.concatenate([*pieces, stretcher.finish()]).astype(np.float64)


def tone(hz: float, seconds: float = 3.0) -> np.ndarray:
    return 0.1 * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


def pitch_of(sound: np.ndarray, hz: float) -> float:
    """Frequency of the tone near `hz`: slope of its phase against a steady one, with the rest smoothed away."""
    t = np.arange(len(sound)) / RATE
    window = np.hanning(RATE // 5)
    turning = np.convolve(sound * np.exp(-2j * np.pi * hz * t), window / window.sum(), "valid")[::100]
    return hz + float(np.polyfit(t[: len(turning) * 100 : 100], np.unwrap(np.angle(turning)), 1)[0]) / (2 * np.pi)


def strokes(*places: int) -> np.ndarray:
    """Noise bursts of 3 ms."""
    sound = np.zeros(4 * RATE)
    for place in places:
        burst = np.random.default_rng(place).standard_normal(144) * np.exp(-np.arange(144) / 40)
        sound[place : place + 144] += 0.4 * burst / np.abs(burst).max()
    return sound


@pytest.mark.parametrize("speed", SPEEDS)
@pytest.mark.parametrize("hz", [41.2, 58.27, 116.54, 440.0, 3520.0])
def test_the_pitch_of_a_tone_is_kept_to_a_hundredth_of_a_cent(hz: float, speed: float) -> None:
    played = slowed(tone(hz), speed)[RATE:-RATE]
    assert abs(cents_of(pitch_of(played, hz) / hz)) <= 0.01
    assert np.sqrt(2 * np.mean(played**2)) == pytest.approx(0.1, rel=0.02)


@pytest.mark.parametrize("speed", SPEEDS)
def test_every_pitch_of_a_chord_is_kept_within_a_cent(speed: float) -> None:
    pitches = [58.27 * ratio for ratio in (1, 2, 2.5, 3, 4, 5, 6)]
    played = slowed(np.sum([tone(hz) for hz in pitches], axis=0), speed)[RATE:-RATE]
    assert max(abs(cents_of(pitch_of(played, hz) / hz)) for hz in pitches) <= 0.1


@pytest.mark.parametrize("speed", SPEEDS)
@pytest.mark.parametrize("under", [0.0, 0.03])
def test_attacks_come_on_time_and_nothing_sounds_before_them(speed: float, under: float) -> None:
    places = (20_000, 45_678, 60_000, 63_000, 110_011)
    still = strokes(*places)
    played = slowed(still + under / 0.1 * tone(311.0, 4.0), speed)
    for place in places:
        at = round(place / speed)
        near = played[at - 960 : at + 480]
        reached = int(np.argmax(np.abs(near) >= 0.12 + under)) - 960
        wanted = int(np.argmax(np.abs(still[place : place + 480]) >= 0.12))
        assert abs(reached - wanted) <= 0.0005 * RATE, place
        before = np.sqrt(np.mean(near[: 960 - 96] ** 2))
        assert before <= 0.008 + under, place  # 34 dB under the stroke, which follows another by 63 ms or more
        assert np.abs(near).max() == pytest.approx(np.abs(still[place : place + 480]).max(), rel=0.02, abs=under)


def test_the_beats_of_two_players_beat_slower() -> None:
    played = slowed(tone(440.0, 4.0) + tone(443.0, 4.0), 0.5)[RATE:-RATE]
    loud = np.convolve(played**2, np.hanning(2400) / 1200, "same")[::480]
    loud = loud - loud.mean()
    spectrum = np.abs(np.fft.rfft(loud * np.hanning(len(loud)), 8192))
    assert float(np.argmax(spectrum[10:])) + 10 == pytest.approx(3.0 / 2 / 100 * 8192, abs=8)


@given(st.integers(0, 30_000), st.integers(1, 9_000), st.sampled_from(SPEEDS), st.integers(0, 5))
@settings(max_examples=25, deadline=None)
def test_the_length_is_exact_and_the_blocks_make_no_difference(count: int, block: int, speed: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    sound = rng.standard_normal(count) * np.where(rng.random(count) < 0.001, 0.5, 0.01)
    played = slowed(sound, speed, block)
    assert len(played) == round(count / speed)
    assert np.allclose(played, slowed(sound, speed, 30_000), atol=1e-6)
    assert np.isfinite(played).all()


def test_at_full_speed_nothing_changes() -> None:
    sound = strokes(20_000, 22_000, 50_000) + tone(200.0, 4.0)
    assert np.allclose(slowed(sound, 1.0), sound, atol=1e-6)


def test_speeds_beyond_are_the_nearest() -> None:
    assert Stretcher(0.1).speed == 0.5
    assert Stretcher(3.0).speed == 1.0


def test_hours_take_no_more_memory_than_seconds() -> None:
    stretcher = Stretcher(0.5)
    block = np.random.default_rng(0).standard_normal(RATE // 2).astype(np.float32) * 0.1
    for _ in range(40):
        stretcher.process(block)
    assert len(stretcher._sound) <= 3 * RATE
    assert len(stretcher._attacks.places) <= 40
