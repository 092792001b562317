"""Running levels of known tones, energy averages, and doses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.hearing.exposure import (
    FLOOR_DB,
    Exposure,
    SoundMeter,
    SoundSpan,
    allowed_hours,
    average_of,
    dose_of,
)
from firmware.units import RATE, Samples


def tone(seconds: float, hz: float = 1000.0, level_db: float = -20.0) -> Samples:
    peak = math.sqrt(2) * 10 ** (level_db / 20)
    return (peak * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)).astype(np.float32)


def spans_of(sound: Samples, block: int = 512) -> list[SoundSpan]:
    meter = SoundMeter()
    return [span for i in range(0, len(sound), block) for span in meter.process(sound[i : i + block])]


def test_a_tone_of_1_khz_reads_its_level() -> None:
    spans = spans_of(tone(6.0))
    assert len(spans) == 12
    assert spans[-1].mean_db == pytest.approx(-20.0, abs=0.01)
    assert spans[-1].fast_db == pytest.approx(-20.0, abs=0.02)
    assert spans[-1].slow_db == pytest.approx(-20.0, abs=0.05)
    assert [span.at for span in spans] == [24_000 * (i + 1) for i in range(12)]


def test_a_low_tone_counts_as_little_as_the_weighting_says() -> None:
    # A at 100 Hz: -19.1 dB (IEC 61672-1, table 3)
    assert spans_of(tone(3.0, 100.0))[-1].mean_db == pytest.approx(-39.1, abs=0.06)


@settings(max_examples=10)
@given(st.integers(1, 3000))
def test_blocks_of_any_length_read_the_same(block: int) -> None:
    sound = tone(1.1, 440.0)
    for one, other in zip(spans_of(sound, block), spans_of(sound, len(sound)), strict=True):
        assert one.at == other.at
        assert one.mean_db == pytest.approx(other.mean_db, abs=1e-9)
        assert one.slow_db == pytest.approx(other.slow_db, abs=1e-9)


def test_time_weightings_fall_as_the_standard_says() -> None:
    # IEC 61672-1: F falls at 34.7 dB/s, S at 4.3 dB/s (10 lg e / tau)
    spans = spans_of(np.concatenate([tone(8.0), np.zeros(2 * RATE, np.float32)]))
    before, after = spans[16], spans[18]
    assert before.slow_db - after.slow_db == pytest.approx(10 * math.log10(math.e), abs=0.02)
    assert spans[17].fast_db == pytest.approx(spans[16].fast_db - 0.5 * 34.74, abs=0.5)


def test_silence_and_what_is_no_number_stay_on_the_floor() -> None:
    bad = np.full(RATE, np.nan, np.float32)
    bad[::2] = np.inf
    for sound in (np.zeros(RATE, np.float32), bad):
        assert [span.mean_db for span in spans_of(sound)] == [FLOOR_DB, FLOOR_DB]


def test_the_average_is_one_of_energy() -> None:
    total = Exposure()
    assert total.mean_db == FLOOR_DB
    for level in (-20.0, -80.0):
        total = total.add(SoundSpan(0, 0.5, level, level + 1, level))
    assert total.mean_db == pytest.approx(-23.01, abs=0.01)
    assert total.loudest_db == -19.0
    assert total.seconds == 1.0
    assert (total.dose, total.counted_seconds) == (0.0, 0.0)


def test_only_calibrated_time_counts_towards_the_dose() -> None:
    span = SoundSpan(0, 0.5, -20.0, -20.0, -20.0)
    total = Exposure().add(span).add(span, 105.0)
    assert total.counted_seconds == 0.5
    assert total.dose == pytest.approx(100 * 0.5 / (8 * 3600))


def test_what_is_soft_does_not_count() -> None:
    assert dose_of(79.9, 3600.0) == 0.0
    assert dose_of(80.0, 3600.0) > 0.0


@given(st.floats(80.0, 130.0), st.floats(1.0, 100_000.0))
def test_dose_and_average_belong_together(level: float, seconds: float) -> None:
    dose = dose_of(level, seconds)
    assert dose == pytest.approx(100.0 * seconds / 3600.0 / allowed_hours(level))
    # 3 dB are taken as a factor of 2 in the time, but 10 lg 2 is 3.0103
    level_again = 85.0 + (average_of(dose) - 85.0 - 10 * math.log10(seconds / 28_800.0)) * 3.0 / (10 * math.log10(2))
    assert level_again == pytest.approx(level, abs=1e-6)


def test_no_dose_has_no_average() -> None:
    assert average_of(0.0) == -math.inf
