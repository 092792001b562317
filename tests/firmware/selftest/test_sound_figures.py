"""The test sound and its figures, against rooms that are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from firmware.selftest.sound_figures import Heard, hear_test, played, tone
from firmware.units import RATE, db_of
from hardware.simulated.sound_path import SoundPath, heard_through


def heard(**changes: object) -> Heard:
    """What is read of a path."""
    path = replace(SoundPath(), **changes)
    return hear_test(heard_through(path, played()), played())


def test_the_sound_is_never_louder_than_a_careful_level() -> None:
    # -18 dB for sweeps and less for tones: the builder has just set the PA by ear.
    assert db_of(float(np.abs(played()).max())) == pytest.approx(-18.0, abs=0.1)
    assert len(played()) < 9 * RATE
    assert not played().flags.writeable


def test_a_good_path_reads_as_it_was_made() -> None:
    one = heard()
    assert one.room is not None
    assert one.room.delay == pytest.approx(0.055 * RATE, abs=0.1)
    assert one.rise_db == pytest.approx(12.0, abs=0.1)
    assert one.tone_hz == pytest.approx(1000.0, abs=2.0)
    assert one.floor_db < -60
    assert one.hum is None
    assert abs(one.room.clock_ppm) < 0.1


@pytest.mark.parametrize("gain", [-20.0, 6.0, 12.0])
def test_a_gain_is_read_to_a_tenth_of_a_decibel(gain: float) -> None:
    one, other = heard(), heard(gain_db=gain)
    assert one.room is not None
    assert other.room is not None
    assert other.room.level_db - one.room.level_db == pytest.approx(gain, abs=0.1)


@pytest.mark.parametrize("rate", [44_100.0, 32_000.0, 16_000.0])
def test_another_rate_is_read_from_the_tone(rate: float) -> None:
    assert heard(mic_rate=rate).tone_hz == pytest.approx(1000.0 * RATE / rate, rel=0.004)


@pytest.mark.parametrize("ppm", [600.0, -450.0])
def test_clocks_apart_are_read_in_their_sense(ppm: float) -> None:
    one = heard(clock_ppm=ppm)
    assert one.room is not None
    assert one.room.clock_ppm == pytest.approx(ppm, abs=1.0)


def test_an_automatic_gain_makes_the_tones_alike() -> None:
    rise = heard(automatic=True).rise_db
    assert rise is not None
    assert rise < 4.0


@pytest.mark.parametrize("hz", [50.0, 60.0])
def test_hum_is_told_from_noise(hz: float) -> None:
    one = heard(hum_hz=hz)
    assert one.hum is not None
    assert one.hum.mains_hz == hz


def test_silence_and_hiss_hold_no_tone_and_no_room() -> None:
    for mic in ("zero", "dead"):
        one = heard(mic=mic)
        assert one.room is None
        assert one.tone_hz == 0.0
        assert one.rise_db is None


@pytest.mark.parametrize("length", [0, 100, RATE, 5 * RATE])
def test_a_recording_that_breaks_off_is_no_crash(length: int) -> None:
    one = hear_test(heard_through(SoundPath(), played())[:length], played())
    assert one.room is None or length == 5 * RATE
    assert one.rise_db is None


def test_nonsense_samples_are_no_crash() -> None:
    mic = heard_through(SoundPath(), played())
    mic[::1000] = np.nan
    mic[5::1000] = np.inf
    assert np.isfinite(hear_test(mic, played()).floor_db)


def test_a_tone_has_the_level_that_it_was_asked_for() -> None:
    assert db_of(float(np.abs(tone(0.5, -30.0)).max())) == pytest.approx(-30.0, abs=0.05)
