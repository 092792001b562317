"""The box's own click leaves the microphone, the players stay in it."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.onsets_own import SECTION, SECTIONS, OwnPath, never_silent

RATE = 24_000
LATE = 1056


def room(generator: np.random.Generator) -> np.ndarray:
    response = np.zeros(5000)
    tail = generator.standard_normal(3900) * np.exp(-np.arange(3900) / 900)
    response[LATE : LATE + 3900] = 0.25 * tail / np.sqrt(np.sum(tail**2)) * 2.8
    response[LATE] = 1.0
    return response


def clicks(seconds: float, gap: float = 0.652) -> np.ndarray:
    own = np.zeros(round(seconds * RATE))
    time = np.arange(720) / RATE
    for number, at in enumerate(np.arange(0.5, seconds - 0.1, gap)):
        hz = 1400.0 if number % 4 else 2100.0
        start = round(at * RATE)
        own[start : start + 720] = 0.25 * np.sin(2 * np.pi * hz * time) * np.exp(-time / 0.006)
    return own


def split(path: OwnPath, mic: np.ndarray, own: np.ndarray) -> np.ndarray:
    pairs = ((mic[at : at + SECTION], own[at : at + SECTION]) for at in range(0, len(mic) - SECTION + 1, SECTION))
    return np.concatenate([path.remove(*pair)[0] for pair in pairs])


@pytest.fixture
def heard() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What the box plays in ten seconds, that in the room, and the room's noise, 60 dB softer."""
    generator = np.random.default_rng(3)
    own = clicks(10.0)
    noise = generator.standard_normal(len(own)) * 2.5e-4
    return own, np.convolve(own, room(generator))[: len(own)], noise


def power_db(sound: np.ndarray) -> float:
    return 10 * np.log10(np.mean(sound**2))


def test_after_a_count_in_the_click_is_30_db_softer(heard: tuple[np.ndarray, ...]):
    own, click, noise = heard
    path = OwnPath()
    rest = split(path, click + noise, own)
    end = slice(8 * RATE, len(rest))
    assert power_db(rest[end] - noise[end]) < power_db(click[end]) - 30
    assert path.late() == LATE
    assert len(path.response) == SECTIONS * SECTION


def test_players_stay_and_are_not_learnt(heard: tuple[np.ndarray, ...]):
    own, click, noise = heard
    generator = np.random.default_rng(5)
    players = 0.1 * generator.standard_normal(len(own)) * (np.arange(len(own)) > 5 * RATE)
    rest = split(OwnPath(), click + noise + players, own)
    end = slice(8 * RATE, len(rest))
    assert power_db(rest[end] - players[end]) < power_db(players[end]) - 10
    assert power_db(rest[end]) == pytest.approx(power_db(players[end]), abs=0.5)


def test_a_second_hearing_begins_with_what_the_first_learnt(heard: tuple[np.ndarray, ...]):
    own, click, noise = heard
    path = OwnPath()
    first = split(path, click + noise, own)
    second = split(path.again(), click + noise, own)
    start = slice(0, 2 * RATE)
    assert power_db(second[start]) < power_db(first[start]) - 20


def test_without_own_sound_the_microphone_is_handed_on():
    path = OwnPath()
    mic = np.ones(SECTION)
    rest, own = path.remove(mic, np.zeros(SECTION))
    assert rest is mic
    assert not own.any()
    assert not path.hidden().any()
    assert path.late() is None


def test_before_it_is_known_much_may_be_hidden(heard: tuple[np.ndarray, ...]):
    own, click, _ = heard
    path, hidden = OwnPath(), []
    for at in range(0, len(own) - SECTION + 1, SECTION):
        path.remove(click[at : at + SECTION], own[at : at + SECTION])
        hidden.append(path.hidden().sum())
    loudest = [max(hidden[at : at + 24]) for at in range(0, len(hidden), 24)]
    assert loudest[-1] < 1e-3 * loudest[0]


def test_a_drone_is_held_and_clicks_are_not():
    time = np.arange(SECTION) / RATE
    drone = 0.1 * np.sin(2 * np.pi * 116.54 * time)
    assert never_silent(drone)
    assert never_silent(drone + clicks(1.0)[RATE // 2 - 500 :][:SECTION])
    assert not never_silent(clicks(1.0)[RATE // 2 - 500 :][:SECTION])
    assert not never_silent(np.zeros(SECTION))


def test_a_click_over_a_drone_is_taken_out_too(heard: tuple[np.ndarray, ...]):
    clicked, _, noise = heard
    time = np.arange(len(clicked)) / RATE
    drone = 0.08 * sum(np.sin(2 * np.pi * 116.54 * number * time) / number for number in range(1, 9))
    own = clicked + drone
    mic = np.convolve(own, room(np.random.default_rng(3)))[: len(own)]
    rest = split(OwnPath(), mic + noise, own)
    end = slice(8 * RATE, len(rest))
    assert power_db(rest[end] - noise[end]) < power_db(mic[end]) - 15
