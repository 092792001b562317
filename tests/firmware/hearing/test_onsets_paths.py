"""A drone that was held before the first click teaches nothing false about the click."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from firmware.hearing.onsets_own import SECTION
from firmware.hearing.onsets_paths import KEPT, OwnPaths

RATE = 24_000
LATE = 1056


def drone(seconds: float, hz: float) -> np.ndarray:
    """A reed-like tone that fades in within 50 ms."""
    time = np.arange(round(seconds * RATE)) / RATE
    return 0.05 * np.minimum(time / 0.05, 1.0) * sum(np.sin(2 * np.pi * hz * n * time) / n for n in range(1, 20))


def clicks(seconds: float, first: float) -> np.ndarray:
    struck = np.zeros(round(seconds * RATE))
    time = np.arange(720) / RATE
    for at in np.arange(first, seconds - 0.1, 0.652):
        start = round(at * RATE)
        struck[start : start + 720] = 0.15 * np.sin(2 * np.pi * 1400.0 * time) * np.exp(-time / 0.006)
    return struck


def room(sound: np.ndarray) -> np.ndarray:
    generator = np.random.default_rng(3)
    response = np.zeros(5000)
    response[LATE : LATE + 3900] = 0.1 * generator.standard_normal(3900) * np.exp(-np.arange(3900) / 900)
    response[LATE] = 1.0
    noise = 2.5e-4 * generator.standard_normal(len(sound))
    return np.convolve(sound, response)[: len(sound)] + noise


def sections(*sounds: np.ndarray) -> Iterator[list[np.ndarray]]:
    for at in range(0, len(sounds[0]) - SECTION + 1, SECTION):
        yield [sound[at : at + SECTION] for sound in sounds]


def power_db(sound: np.ndarray) -> float:
    return float(10 * np.log10(np.mean(sound**2)))


def test_a_first_click_over_a_drone_is_only_where_it_is_heard() -> None:
    struck = clicks(9.0, 8.5)
    own = struck + drone(9.0, 98.0)
    mic = room(own)
    paths, one = OwnPaths(), OwnPaths()
    rest = np.concatenate([paths.remove(*each) for each in sections(mic, own, struck)])
    mixed = np.concatenate([one.remove(*each) for each in sections(mic, own)])
    early = slice(round(8.5 * RATE), round(8.5 * RATE) + LATE)
    still = power_db(rest[early.start - RATE // 2 : early.start])
    assert power_db(rest[early]) < still + 3.0
    assert power_db(mixed[early]) > still + 6.0  # and so it is not when both go by one path
    assert paths.late() == LATE


def test_clicks_over_a_drone_are_taken_out() -> None:
    struck = clicks(20.0, 2.0)
    own = struck + drone(20.0, 98.0)
    mic = room(own)
    paths = OwnPaths()
    rest = np.concatenate([paths.remove(*each) for each in sections(mic, own, struck)])
    end = slice(15 * RATE, len(rest))
    assert power_db(rest[end]) < power_db(mic[end]) - 20
    again = paths.again()
    second = np.concatenate([again.remove(*each) for each in sections(mic, own, struck)])
    start = slice(2 * RATE, 3 * RATE)
    assert power_db(second[start]) < power_db(rest[start]) - 6


def test_it_knows_when_the_drone_changed() -> None:
    own = np.concatenate([drone(5.0, 98.0), drone(5.0, 147.0)])
    mic, struck = room(own), np.zeros(10 * RATE)
    paths, changes = OwnPaths(), list[int]()
    for number, each in enumerate(sections(mic, own, struck)):
        paths.remove(*each)
        if paths.changed(0) and not (changes and number - changes[-1] < KEPT):
            changes.append(number)
    assert changes == [1, pytest.approx(5.0 * RATE / SECTION, abs=1.5)]


def test_silence_is_handed_on_and_hides_nothing() -> None:
    paths = OwnPaths()
    mic, silence = np.ones(SECTION), np.zeros(SECTION)
    assert paths.remove(mic, silence, silence) is mic
    assert not paths.hidden().any()
    assert not paths.changed(0)
    assert paths.late() is None
