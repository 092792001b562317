"""What a microphone makes of the test sound: figures of the fault come out as they went in."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.selftest.sound_figures import played
from firmware.units import RATE, db_of
from hardware.simulated.sound_path import SoundPath, heard_through

OWN = played()


def rms_db(sound: np.ndarray) -> float:
    """Level of a sound."""
    return db_of(float(np.sqrt(np.mean(np.square(sound, dtype=np.float64)))))


def test_it_is_the_same_every_time_and_delayed_as_asked() -> None:
    one = heard_through(SoundPath(delay_ms=100.0), OWN)
    assert np.array_equal(one, heard_through(SoundPath(delay_ms=100.0), OWN))
    shift = np.argmax(np.correlate(one[60_000:140_000], OWN[60_000:120_000], "valid"))
    assert shift == round(0.1 * RATE)


@pytest.mark.parametrize("gain", [-20.0, 10.0])
def test_the_gain_changes_everything_alike(gain: float) -> None:
    assert rms_db(heard_through(SoundPath(gain_db=gain), OWN)) - rms_db(
        heard_through(SoundPath(), OWN)
    ) == pytest.approx(gain, abs=0.01)


def test_noise_and_hum_have_their_levels_in_silence() -> None:
    assert rms_db(heard_through(SoundPath(noise_db=-40.0), OWN)[: RATE // 2]) == pytest.approx(-40.0, abs=1.5)
    hum = heard_through(SoundPath(hum_hz=50.0, noise_db=-120.0), OWN)[:RATE]
    assert abs(np.fft.rfft(hum)[50]) * 2 / RATE == pytest.approx(0.01, rel=0.05)


def test_a_clipped_microphone_stays_within_full_scale() -> None:
    assert float(np.abs(heard_through(SoundPath(gain_db=60.0), OWN)).max()) == 1.0


def test_nothing_comes_of_nothing() -> None:
    assert not heard_through(SoundPath(mic="zero"), OWN).any()
    assert rms_db(heard_through(SoundPath(speaker=False), OWN)) == pytest.approx(-66.0, abs=1.0)
    assert rms_db(heard_through(SoundPath(mic="dead"), OWN)) == pytest.approx(-96.0, abs=1.0)
