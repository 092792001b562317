"""Two clocks: found while the box plays alone, and followed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from firmware.hearing.filters import Decimator
from firmware.hearing.own_pace import Pace, delay_between
from firmware.hearing.own_stream import CleanedStream, Hop
from firmware.units import RATE, samples_of
from tests.firmware.hearing.rooms import Place, drone, place, played, tone

HOP, SLOW = 480, 12_000.0


def slow_drone(ppm: float, seconds: float = 6.0) -> tuple[np.ndarray, np.ndarray]:
    """A drone at the microphone and as it was played, from a second after its beginning on."""
    own = played((drone(116.54, 233.08), seconds))
    mic = Place(place().taps, ppm).mic(own)
    return Decimator(4).process(mic)[12_000:], Decimator(4).process(own)[12_000:]


def test_two_clocks_are_found_once_and_one_clock_never() -> None:
    for ppm in (100.0, -70.0, 0.0, 0.4):
        mic, own = slow_drone(ppm)
        pace = Pace(SLOW, HOP)
        found = [pace.add(mic[i : i + HOP], own[i : i + HOP], None) for i in range(0, len(mic) - HOP, HOP)]
        told = [one for one in found if one is not None]
        if abs(ppm) < 1:
            assert told == []
            assert not pace.apart
        else:
            assert found.index(told[0]) == round(2.2 * SLOW / HOP) - 1
            assert abs(told[0].ppm - ppm) < 0.5
            assert pace.apart


def test_a_player_at_unison_is_not_taken_for_another_clock() -> None:
    own = played((drone(116.54, 233.08), 6.0))
    # 0.2 cent are 116 ppm.
    mic = place().mic(own) + 0.05 * tone(233.08 * 2 ** (0.2 / 1200), 6.0)
    slow, slow_own = Decimator(4).process(mic)[12_000:], Decimator(4).process(own)[12_000:]
    pace = Pace(SLOW, HOP)
    assert all(pace.add(slow[i : i + HOP], slow_own[i : i + HOP], None) is None for i in range(0, len(slow) - HOP, HOP))


def test_a_delay_is_told_to_a_fraction_of_a_sample() -> None:
    _, own = slow_drone(0.0)
    spectrum = np.fft.rfft(own)
    late = np.fft.irfft(spectrum * np.exp(-2j * np.pi * 0.13 * np.arange(len(spectrum)) / len(own)), len(own))
    inside = slice(2000, -2000)
    found, left = delay_between(late[inside], own[inside], SLOW)
    assert found == pytest.approx(0.13, abs=0.01)
    assert left < 0.1


def test_a_room_that_has_changed_since_its_check_is_no_delay() -> None:
    """Its phases are others, so a delay seems to come out of them; the clocks must not be set by that."""
    own = played((drone(116.54, 233.08), 9.0))
    here, moved = place(seed=1), place(seed=2)
    taps = 0.95 * here.taps + 0.3 * moved.taps
    mic, predicted = (Decimator(4).process(Place(one).mic(own))[12_000:] for one in (taps, here.taps))
    slow_own = Decimator(4).process(own)[12_000:]
    late, left = delay_between(mic, predicted, SLOW)
    assert abs(late) > 0.02
    assert left > 0.5
    pace = Pace(SLOW, HOP)
    pace.known(100.0, 0.05)
    hops = [slice(i, i + HOP) for i in range(0, len(slow_own) - HOP, HOP)]
    told = [one for one in (pace.add(mic[i], slow_own[i], predicted[i]) for i in hops) if one is not None]
    assert told
    assert all(abs(one.ppm) < 1.0 and one.samples == 0.0 for one in told)


@pytest.mark.parametrize("ppm", [100.0, -100.0])
def test_the_stream_finds_the_clocks_by_itself_within_three_seconds_of_drone(ppm: float) -> None:
    own = played((drone(), 1.0), (drone(116.54, 233.08), 6.0))
    mic = Place(place().taps, ppm).mic(own).astype(np.float32)
    stream = CleanedStream()
    cleaned: list[Hop] = []
    ppms = []
    for i in range(0, len(mic) - 1919, 1920):
        cleaned += stream.process(mic[i : i + 1920], own[i : i + 1920])
        ppms.append(stream.ppm)
    assert abs(ppms[round(4.0 * RATE / 1920)] - ppm) < 1.0
    late = slice(round(5.5 * RATE / 1920), None)
    assert all(hop.removed is not None for hop in cleaned[late])
    left = np.mean([np.mean(hop.rest**2) for hop in cleaned[late]])
    taken = np.mean([hop.removed_power for hop in cleaned[late]])
    # What is left is the noise at the microphone, -66 dB re full scale.
    assert 10 * np.log10(left) < -64.0
    assert 10 * np.log10(taken) > -40.0


def test_clocks_that_drift_are_followed() -> None:
    own = played((drone(), 1.0), (drone(116.54, 233.08), 40.0))
    # 100 ppm, rising by 3 ppm a minute: the places that the microphone's samples have on the clock of own sound.
    heard = Place(place().taps, 0.0, -120.0).mic(own)
    time = np.arange(len(heard)) / RATE
    rate = 1e-6 * (100.0 * time + 0.025 * time**2) * RATE
    mic = CubicSpline(np.arange(len(heard)), heard)(np.arange(len(heard)) - rate)
    mic = (mic + 5e-4 * np.random.default_rng(1).standard_normal(len(mic))).astype(np.float32)
    stream = CleanedStream()
    for i in range(0, samples_of(40.0), 1920):
        for _ in stream.process(mic[i : i + 1920], own[i : i + 1920]):
            pass
        if i > samples_of(15.0):
            assert abs(stream.ppm - (100.0 + 0.05 * i / RATE)) < 0.7
