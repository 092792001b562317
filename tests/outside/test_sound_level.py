"""Level and dose against the tables of IEC 61672-1 and NIOSH 98-126."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firmware.hearing.exposure import SoundMeter, allowed_hours, average_of, dose_of
from firmware.hearing.weighting import a_weighting, a_weighting_db
from firmware.units import RATE, Samples

# IEC 61672-1:2013, table 3: A weighting at nominal frequencies, and the acceptance limits of class 1 above and below.
# Weightings as printed in handbooks; the limits from memory.
A_WEIGHTING = (
    (10.0, -70.4, 3.0, math.inf),
    (12.5, -63.4, 2.5, math.inf),
    (16.0, -56.7, 2.0, 4.0),
    (20.0, -50.5, 2.0, 2.0),
    (25.0, -44.7, 2.0, 1.5),
    (31.5, -39.4, 1.5, 1.5),
    (40.0, -34.6, 1.0, 1.0),
    (50.0, -30.2, 1.0, 1.0),
    (63.0, -26.2, 1.0, 1.0),
    (80.0, -22.5, 1.0, 1.0),
    (100.0, -19.1, 1.0, 1.0),
    (125.0, -16.1, 1.0, 1.0),
    (160.0, -13.4, 1.0, 1.0),
    (200.0, -10.9, 1.0, 1.0),
    (250.0, -8.6, 1.0, 1.0),
    (315.0, -6.6, 1.0, 1.0),
    (400.0, -4.8, 1.0, 1.0),
    (500.0, -3.2, 1.0, 1.0),
    (630.0, -1.9, 1.0, 1.0),
    (800.0, -0.8, 1.0, 1.0),
    (1000.0, 0.0, 0.7, 0.7),
    (1250.0, 0.6, 1.0, 1.0),
    (1600.0, 1.0, 1.0, 1.0),
    (2000.0, 1.2, 1.0, 1.0),
    (2500.0, 1.3, 1.0, 1.0),
    (3150.0, 1.2, 1.0, 1.0),
    (4000.0, 1.0, 1.0, 1.0),
    (5000.0, 0.5, 1.5, 1.5),
    (6300.0, -0.1, 1.5, 2.0),
    (8000.0, -1.1, 1.5, 2.5),
    (10000.0, -2.5, 2.0, 3.0),
    (12500.0, -4.3, 2.0, 5.0),
    (16000.0, -6.6, 2.5, 16.0),
    (20000.0, -9.3, 3.0, math.inf),
)

# IEC 61672-1:2013, table 4 (from memory): greatest level of a 4 kHz burst of some milliseconds against the steady tone,
# with time weighting F and S, and the acceptance limits of class 1 above and below.
BURSTS = (
    (1000, 0.0, -2.0, 0.5, 0.5),
    (500, -0.1, -4.1, 0.5, 0.5),
    (200, -1.0, -7.4, 0.5, 0.5),
    (100, -2.6, -10.2, 1.0, 1.0),
    (50, -4.8, -13.1, 1.0, 1.0),
    (20, -8.3, -17.0, 1.0, 1.0),
    (10, -11.1, -20.0, 1.0, 1.0),
    (5, -14.1, -23.0, 1.0, 1.5),
    (2, -18.0, -27.0, 1.0, 1.5),
)

# NIOSH 98-126, table 1-1: level in dB(A), and hours, minutes and seconds for which it may be borne.
DURATIONS = (
    (80, 25, 24, 0),
    (82, 16, 0, 0),
    (85, 8, 0, 0),
    (88, 4, 0, 0),
    (90, 2, 31, 0),
    (91, 2, 0, 0),
    (94, 1, 0, 0),
    (95, 0, 47, 37),
    (97, 0, 30, 0),
    (100, 0, 15, 0),
    (103, 0, 7, 30),
    (106, 0, 3, 45),
)


def exact_hz(nominal: float) -> float:
    """The exact base-ten frequency of a nominal one (IEC 61672-1, annex D)."""
    return 1000.0 * 10.0 ** (round(10 * math.log10(nominal / 1000.0)) / 10)


def tone(hz: float, seconds: float) -> Samples:
    return (0.5 * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)).astype(np.float32)


@pytest.mark.parametrize(("nominal", "weighting", "above", "below"), A_WEIGHTING)
def test_the_weighting_keeps_class_1(nominal: float, weighting: float, above: float, below: float) -> None:
    hz = exact_hz(nominal)
    sound = tone(hz, 1.5)
    out = a_weighting().process(sound)
    # A whole number of periods after the filter has settled.
    count = round(round(0.9 * hz) * RATE / hz)
    found = 20 * math.log10(float(np.std(out[-count:]) / np.std(sound[-count:])))
    assert weighting - below <= found <= weighting + above
    # Our own aim is closer: what rounding of the table to a tenth allows, and a little.
    assert found == pytest.approx(weighting, abs=0.05 + 0.1 + 0.1 * (nominal > 16_000))
    assert float(a_weighting_db(np.array([hz]))[0]) == pytest.approx(weighting, abs=0.056)


@pytest.mark.parametrize(("milliseconds", "fast", "slow", "above", "below"), BURSTS)
def test_bursts_read_as_the_standard_says(
    milliseconds: int, fast: float, slow: float, above: float, below: float
) -> None:
    burst = tone(4000.0, milliseconds / 1000)
    quiet = np.zeros(RATE // 100, np.float32)
    steady = SoundMeter().process(tone(4000.0, 8.0))[-1].mean_db
    spans = SoundMeter().process(np.concatenate([quiet, burst, np.zeros(2 * RATE, np.float32)]))
    assert max(span.fast_db for span in spans) - steady == pytest.approx(fast, abs=min(above, below))
    # Time weighting S is only reported at the end of a span: lay the end of the burst on one.
    lead = RATE // 2 - len(burst) % (RATE // 2)
    spans = SoundMeter().process(np.concatenate([np.zeros(lead, np.float32), burst]))
    assert spans[-1].slow_db - steady == pytest.approx(slow, abs=min(above, below))


@pytest.mark.parametrize(("level", "hours", "minutes", "seconds"), DURATIONS)
def test_allowed_times(level: int, hours: int, minutes: int, seconds: int) -> None:
    published = hours + minutes / 60 + seconds / 3600
    # The table leaves out what is under a minute above one hour, and under a second below.
    assert allowed_hours(level) == pytest.approx(published, abs=1 / 60 if hours else 1 / 3600)


def test_a_full_dose() -> None:
    # NIOSH 98-126, 1.1.1: 85 dB(A) for 8 h is 100 per cent; 1.1.3: TWA = 10 log(D / 100) + 85.
    assert dose_of(85.0, 8 * 3600) == pytest.approx(100.0)
    assert average_of(100.0) == 85.0
    assert average_of(200.0) == pytest.approx(88.01, abs=0.005)
