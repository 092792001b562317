"""Own sound predicted by what the room check has learned, whatever the sound is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from firmware.hearing.filters import Decimator
from firmware.hearing.own_clock import OwnClock
from firmware.hearing.own_room import RoomPath
from tests.firmware.hearing.rooms import checked, drone, place, played

HOP = 480


SINCE = 25
"""Hops before own sound begins: the check of `checked` began a second after its stream, and so do these sounds."""


def left_db(rt60: float, ppm: float, own: np.ndarray, seconds: slice) -> float:
    """What is left of own sound between 50 and 5000 Hz when it is predicted, in dB of the loudest that was heard."""
    own = np.concatenate([np.zeros(SINCE * 4 * HOP, np.float32), own])
    mic = replace(place(rt60, ppm), noise_db=-120.0).mic(own)
    room = checked(rt60, ppm)
    path, clock = RoomPath(room, 4, HOP), OwnClock(12_000.0)
    slow, own_slow = Decimator(4).process(mic), Decimator(4).process(own)
    predicted = []
    for hop in range(len(slow) // HOP):
        if hop == SINCE and ppm:
            clock.set(room.clock_ppm, path.late)
        predicted.append(path.process(clock.process(own_slow[hop * HOP : (hop + 1) * HOP])[0]))
    rest = slow[: len(predicted) * HOP] - np.concatenate(predicted)
    part = slice(*(SINCE * HOP + int(at * 12_000) for at in (seconds.start, seconds.stop)))
    loudest = max(in_band(slow[i : i + 4800]) for i in range(SINCE * HOP, len(slow) - 4800, 2400))
    return float(10 * np.log10(in_band(rest[part]) / loudest))


def in_band(sound: np.ndarray) -> float:
    """Mean square between 50 and 5000 Hz."""
    power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    hz = np.fft.rfftfreq(len(sound), 1 / 12_000)
    return float(power[(hz > 50) & (hz < 5000)].sum()) / len(sound) ** 2


@pytest.mark.parametrize(("rt60", "ppm"), [(0.4, 0.0), (1.2, 0.0), (0.8, 100.0)])
def test_a_drone_its_beginning_its_change_and_its_end_are_predicted(rt60: float, ppm: float) -> None:
    own = played((drone(116.54, 233.08), 1.0), (drone(130.8, 196.2), 1.0), (drone(), 0.6))
    for seconds in (slice(0.05, 0.6), slice(1.0, 1.5), slice(2.1, 2.5)):
        assert left_db(rt60, ppm, own, seconds) < -34.0, seconds


def test_noise_and_clicks_are_predicted() -> None:
    generator = np.random.default_rng(2)
    own = np.zeros(72_000, np.float32)
    own[4800:33_600] = 0.05 * generator.standard_normal(28_800)
    own[48_000:48_400] = 0.5 * np.sin(np.arange(400) * 0.3) * np.hanning(400)
    assert left_db(0.8, 0.0, own, slice(0.2, 0.7)) < -30.0
    assert left_db(0.8, 0.0, own, slice(1.02, 1.3)) < -30.0


def test_what_is_expected_to_be_left_is_about_what_is_left() -> None:
    path = RoomPath(checked(), 4, HOP)
    hz = np.geomspace(100, 4000, 40)
    leak = 10 * np.log10(path.leak_at(hz).mean())
    assert -50.0 < leak < -30.0
    truth = np.abs(np.exp(-2j * np.pi / 48_000 * np.outer(hz, np.arange(len(place().taps)))) @ place().taps) ** 2
    assert 10 * np.log10(path.gain_at(hz).mean() / truth.mean()) == pytest.approx(0.0, abs=1.5)


def test_what_a_room_like_this_usually_has_knows_no_fades() -> None:
    """Each of many lines is as loud as others nearby, while those that were learned differ by fades of the room."""
    path, time = RoomPath(checked(), 4, HOP), np.arange(60 * HOP) / 12_000
    usual, learned = [], []
    for hz in np.arange(300.0, 420.0, 4.0):
        for hop in np.split(0.1 * np.sin(2 * np.pi * hz * time), 60):
            heard = path.process(hop)
        usual.append(float(path.usual(np.array([hz]), 6.5, 12_000.0)[0]))
        learned.append(float(np.mean(heard**2)))
        # An octave higher there is nothing, and silence leaves nothing.
        assert path.usual(np.array([2 * hz]), 6.5, 12_000.0)[0] < 1e-3 * usual[-1]
        for _ in range(path.hops + 4):
            path.process(np.zeros(HOP))
        assert path.usual(np.array([hz]), 6.5, 12_000.0)[0] < 1e-9 * usual[-1]
    usual_db, learned_db = 10 * np.log10(usual), 10 * np.log10(learned)
    assert np.ptp(usual_db) < 5.0
    assert np.ptp(learned_db) > 10.0
    assert 10 * np.log10(np.mean(usual) / np.mean(learned)) == pytest.approx(0.0, abs=2.0)


def test_silence_is_predicted_as_silence_without_work_and_sound_comes_back() -> None:
    path = RoomPath(checked(0.4), 4, HOP)
    assert path.process(np.ones(HOP)).any()
    for _ in range(path.hops + 2):
        path.process(np.zeros(HOP))
    assert not path.process(np.zeros(HOP)).any()
    assert path.process(np.ones(HOP)).any()


def test_a_slow_microphone_leaves_room_for_what_comes_earlier_and_earlier() -> None:
    usual = RoomPath(checked(0.4), 4, HOP)
    slow = RoomPath(replace(checked(0.4), clock_ppm=-100.0), 4, HOP)
    assert slow.late > usual.late + 100
