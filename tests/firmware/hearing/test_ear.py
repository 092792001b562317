"""Pitch of one player: accuracy over range and noise, octaves, vibrato, onsets, and what must not be read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firmware.heard_events import Heard
from firmware.hearing.ear import Ear

RATE = 48_000
Maker = Callable[[int], Any]
Hear = Callable[..., list[Heard]]


def cents(hz: float, truth: float) -> float:
    return 1200 * np.log2(hz / truth)


@pytest.mark.parametrize(
    ("low", "high", "snr", "median", "most"),
    [
        # bounds: about twice what was measured over 40 tones a cell (tests/speed/results/ear.json has the figures)
        (39, 120, 20, 0.06, 0.6),
        (120, 1000, 20, 0.02, 0.15),
        (1000, 4186, 20, 0.01, 0.05),
        (39, 120, 10, 0.2, 3.0),
        (120, 1000, 10, 0.05, 0.5),
        (1000, 4186, 10, 0.03, 0.15),
    ],
)
def test_a_steady_tone_in_pink_noise_is_read_exactly(
    stage: Maker, hear: Hear, low: float, high: float, snr: int, median: float, most: float
):
    made = stage(low + snr)
    errors = []
    for _ in range(4):
        hz = float(np.exp(made.rng.uniform(np.log(low), np.log(high))))
        mic = 0.1 * (made.player(hz, 0.6) + 10 ** (-snr / 20) * made.pink(0.6))
        readings = hear(mic)[5:-1]
        assert all(reading.hz is not None for reading in readings)
        errors.extend(abs(cents(reading.hz, hz)) for reading in readings)
    assert np.median(errors) < median
    assert max(errors) < most


def test_a_high_tone_is_read_by_its_partials_over_5_khz_too(stage: Maker, hear: Hear):
    made = stage(3)
    errors = []
    for _ in range(4):
        hz = float(np.exp(made.rng.uniform(np.log(1000), np.log(2000))))
        mic = 0.1 * (made.player(hz, 0.6) + 0.1 * made.pink(0.6))
        errors.extend(abs(cents(one.hz, hz)) for one in hear(mic)[5:-1])
    assert np.median(errors) < 0.0015


def test_at_equal_noise_and_tone_nothing_is_read_wrong(stage: Maker, hear: Hear):
    made = stage(1)
    read = 0
    for _ in range(10):
        hz = float(np.exp(made.rng.uniform(np.log(80), np.log(2000))))
        for reading in hear(0.1 * (made.player(hz, 0.5) + made.pink(0.5)))[4:-1]:
            if reading.hz is not None:
                read += 1
                assert abs(cents(reading.hz, hz)) < 50
    assert read > 20


TIMBRES = {
    "sine": [1],
    "odd partials only": [1 / k if k % 2 else 0 for k in range(1, 20)],
    "clarinet-like": [1, 0.02, 0.7, 0.03, 0.4, 0.05, 0.2],
    "no first partial": [0] + [1 / k for k in range(2, 12)],
    "weak first partial": [0.05] + [1 / k for k in range(2, 12)],
    "strong third": [0.5, 0.2, 1, 0.2, 0.2, 0.3],
    "even louder than odd": [0.3, 1, 0.2, 0.6, 0.15, 0.4, 0.1, 0.2],
}


@pytest.mark.parametrize("hz", [58.27, 233.08, 932.33])
@pytest.mark.parametrize("timbre", TIMBRES)
def test_the_octave_is_right_for_every_spectrum(stage: Maker, hear: Hear, hz: float, timbre: str):
    made = stage(7)
    mic = 0.1 * made.player(hz, 0.5, partials=TIMBRES[timbre]) + 0.001 * made.pink(0.5)
    readings = [reading for reading in hear(mic)[4:-1] if reading.hz is not None]
    assert len(readings) >= 6
    assert max(abs(cents(reading.hz, hz)) for reading in readings) < 0.5


def test_the_whole_range_is_heard(stage: Maker, hear: Hear):
    made = stage(3)
    for hz in (38.0, 41.2, 1318.5, 2093.0, 3520.0, 4186.0, 4200.0):
        readings = hear(0.1 * made.player(hz, 0.5) + 1e-4 * made.pink(0.5))[5:-1]
        assert all(reading.hz is not None and abs(cents(reading.hz, hz)) < 1 for reading in readings), hz


@pytest.mark.parametrize("width", [8, 20, 30])
@pytest.mark.parametrize("hz", [116.54, 233.08, 466.16])
def test_the_mean_over_a_vibrato_is_its_centre(stage: Maker, hear: Hear, hz: float, width: int):
    made = stage(width)
    seconds = 0.4 + 8 / 5.5
    mic = 0.1 * made.player(hz, seconds, vibrato=width) + 0.001 * made.pink(seconds)
    readings = [reading for reading in hear(mic) if 0.25 * RATE < reading.at < (seconds - 0.15) * RATE]
    values = [cents(reading.hz, hz) for reading in readings if reading.hz is not None]
    assert len(values) >= 0.9 * len(readings)
    assert abs(np.mean(values)) < 0.1 * width
    assert max(values) > 0.7 * width
    assert min(values) < -0.7 * width
    assert max(map(abs, values)) < 1.3 * width


@pytest.mark.parametrize(("hz", "most"), [(58.27, 0.2), (116.54, 0.16), (233.08, 0.12), (466.16, 0.12), (932.33, 0.12)])
def test_a_new_tone_is_read_soon(stage: Maker, hear: Hear, hz: float, most: float):
    # time at which the first of two right readings in a row is known: end of its hop, not the centre of its window
    made = stage(11)
    mic = np.concatenate([np.zeros(RATE // 2), 0.1 * made.player(hz, 0.6, edge=0.01)]) + 0.001 * made.pink(1.1)
    readings = hear(mic)
    good = [reading.hz is not None and abs(cents(reading.hz, hz)) < 5 for reading in readings]
    first = next(index for index in range(len(good) - 1) if good[index] and good[index + 1])
    assert (first + 1) * 0.04 - 0.5 < most
    assert all(reading.hz is None or abs(cents(reading.hz, hz)) < 50 for reading in readings)


def test_a_falling_octave_is_followed(stage: Maker, hear: Hear):
    made = stage(12)
    mic = 0.1 * np.concatenate([made.player(466.16, 0.6), made.player(233.08, 0.6), made.player(466.16, 0.6)])
    for reading in hear(mic + 0.001 * made.pink(1.8)):
        at = reading.at / RATE
        if reading.hz is not None:
            near = min(abs(cents(reading.hz, 466.16)), abs(cents(reading.hz, 233.08)))
            assert near < 50
        for start, hz in ((0.0, 466.16), (0.6, 233.08), (1.2, 466.16)):
            if start + 0.2 < at < start + 0.45:
                assert reading.hz is not None
                assert abs(cents(reading.hz, hz)) < 1


@pytest.mark.parametrize("hz", [58.27, 116.54, 233.08, 932.33])
def test_the_end_of_a_tone_in_a_room_brings_no_subharmonic(stage: Maker, hear: Hear, hz: float):
    made = stage(13)
    for rt60 in (0.4, 1.0):
        mic = np.zeros(2 * RATE)
        mic[: int(0.7 * RATE)] = made.player(hz, 0.7)
        mic = 0.1 * made.room(mic, rt60, 0.0, direct=2.0) + 0.0003 * made.pink(2.0)
        for reading in hear(mic):
            assert reading.hz is None or abs(cents(reading.hz, hz)) < 60, (rt60, reading)


def test_readings_come_every_40_ms_in_order_and_know_their_time(hear: Hear, stage: Maker):
    made = stage(14)
    glide = 220 * 2 ** (np.arange(2 * RATE) / RATE * 100 / 1200)  # 100 cents a second
    phase = 2 * np.pi * np.cumsum(glide) / RATE
    mic = 0.1 * sum(np.cos(k * phase) / k for k in range(1, 9)) + 1e-4 * made.pink(2.0)
    readings = hear(mic)
    assert len(readings) == 2 * RATE // 1920
    times = [reading.at for reading in readings]
    assert times == sorted(times)
    for reading in readings[5:]:
        assert reading.hz is not None
        assert cents(reading.hz, 220) == pytest.approx(reading.at / RATE * 100, abs=0.6)


def test_block_sizes_do_not_matter(stage: Maker):
    made = stage(15)
    mic = (0.1 * made.player(330.0, 0.4) + 0.001 * made.pink(0.4)).astype(np.float32)
    silent = np.zeros_like(mic)
    whole = Ear().process(mic, silent)
    for size in (1, 97, 512, 5000) if len(mic) < 20_000 else (97, 512, 5000):
        ear = Ear()
        parts = [ear.process(mic[i : i + size], silent[i : i + size]) for i in range(0, len(mic), size)]
        assert tuple(reading for part in parts for reading in part) == whole


def test_level_and_confidence_mean_what_they_say(stage: Maker, hear: Hear):
    made = stage(16)
    loud = 0.1 * made.player(300.0, 0.6)
    clean = hear(loud + 1e-5 * made.pink(0.6))[8]
    assert clean.confidence > 0.999
    assert clean.level_db == pytest.approx(-20, abs=1.0)
    noisy = [reading.confidence for reading in hear(loud + 0.0316 * made.pink(0.6))[6:-1]]
    assert 0.75 < np.median(noisy) < 0.97  # 10 dB over noise that is pink, tone and noise weighed in the tone's band
    nothing = hear(np.zeros(9600))
    assert all(reading.confidence == 0 for reading in nothing)


def test_blocks_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match="equally long"):
        Ear().process(np.zeros(512, np.float32), np.zeros(511, np.float32))


NOTHINGS = {
    "digital silence": lambda _made, n: np.zeros(n),
    "DC": lambda _made, n: np.full(n, 0.5),
    "a step of DC": lambda _made, n: np.where(np.arange(n) < n // 2, 0.5, -0.5),
    "white noise": lambda made, n: 0.1 * made.rng.standard_normal(n),
    "pink noise": lambda made, n: 0.1 * made.pink(n / RATE),
    "clipped noise": lambda made, n: np.clip(5 * made.rng.standard_normal(n), -1, 1),
    "single impulses": lambda _made, n: np.where(np.arange(n) % 19_997 == 5000, 1.0, 0.0),
    "not a number": lambda _made, n: np.full(n, np.nan),
    "infinite": lambda _made, n: np.full(n, np.inf),
    "absurdly loud noise": lambda made, n: 1e30 * made.rng.standard_normal(n),
}


@pytest.mark.parametrize("kind", NOTHINGS)
def test_nothing_is_read_where_there_is_no_tone(stage: Maker, hear: Hear, kind: str):
    readings = hear(NOTHINGS[kind](stage(17), 3 * RATE))
    assert len(readings) == 75
    assert all(reading.hz is None for reading in readings)
    assert {reading.why for reading in readings} <= {"silence", "noise"}
    if kind in ("digital silence", "not a number", "infinite"):
        assert {reading.why for reading in readings} == {"silence"}


@pytest.mark.parametrize("ratios", [(1, 1.5), (1, 1.25), (1, 1.25, 1.5)])
def test_a_just_chord_is_not_taken_for_one_low_player(stage: Maker, hear: Hear, ratios: tuple[float, ...]):
    made = stage(18)
    mic = 0.05 * sum(made.player(233.08 * ratio, 0.6) for ratio in ratios) + 0.001 * made.pink(0.6)
    low = [reading for reading in hear(mic)[4:-1] if reading.hz is not None and reading.hz < 230]
    assert len(low) <= 1


def test_a_clipped_tone_still_has_its_pitch(stage: Maker, hear: Hear):
    made = stage(19)
    mic = np.clip(3 * made.player(220.0, 0.5), -1, 1)
    values = [reading.hz for reading in hear(mic)[5:-1]]
    assert all(hz is not None and abs(cents(hz, 220.0)) < 1 for hz in values)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    arrays(np.float32, st.integers(0, 6000), elements=st.floats(width=32, allow_nan=True, allow_infinity=True)),
    st.integers(1, 3000),
)
def test_any_numbers_at_all_are_survived(block: np.ndarray, size: int):
    ear = Ear()
    for start in range(0, len(block), size):
        part = block[start : start + size]
        for reading in ear.process(part, part):
            assert reading.hz is None or 36 < reading.hz < 4400
