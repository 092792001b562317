"""Attacks are found where they are, and steady or soft sound has none."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.sound.attacks import APART, Attacks
from firmware.units import RATE


def found(sound: np.ndarray, block: int = 512) -> list[int]:
    attacks = Attacks()
    for at in range(0, len(sound), block):
        attacks.process(sound[at : at + block].astype(np.float32))
    return attacks.places


def tone(hz: float, seconds: float = 2.0, partials: int = 1) -> np.ndarray:
    t = np.arange(round(seconds * RATE)) / RATE
    return np.asarray(0.1 * sum(np.sin(2 * np.pi * hz * k * t) for k in range(1, partials + 1)))


def with_strokes(sound: np.ndarray, *places: int) -> np.ndarray:
    stroke = np.random.default_rng(3).standard_normal(2000) * np.exp(-np.arange(2000) / 300) * 0.3
    sound = sound.copy()
    for place in places:
        sound[place : place + 2000] += stroke
    return sound


@pytest.mark.parametrize("under", [np.zeros(2 * RATE), tone(110.0), tone(58.27, partials=20)])
@pytest.mark.parametrize("block", [1000, 77_777])
def test_a_stroke_is_found_to_a_fifth_of_a_millisecond(under: np.ndarray, block: int) -> None:
    places = (20_011, 40_000, 70_123)
    heard = [place for place in found(with_strokes(under, *places), block) if place > APART]
    assert len(heard) == len(places)
    assert np.abs(np.subtract(heard, places)).max() <= 0.0002 * RATE


@pytest.mark.parametrize(
    "sound",
    [
        tone(38.0, partials=30),  # its pulses come every 26 ms
        tone(440.0),
        np.random.default_rng(1).standard_normal(2 * RATE) * 0.1,
        tone(220.0) * np.linspace(0.05, 1.0, 2 * RATE),
        tone(220.0) + tone(223.0),
    ],
)
def test_what_lasts_or_swells_has_no_attacks(sound: np.ndarray) -> None:
    assert [place for place in found(sound) if place > APART] == []


def test_strokes_closer_than_50_ms_are_one() -> None:
    assert len(found(with_strokes(np.zeros(RATE), 20_000, 20_000 + APART // 2))) == 1
    assert len(found(with_strokes(np.zeros(RATE), 20_000, 20_000 + 2 * APART))) == 2


def test_what_is_past_can_be_forgotten() -> None:
    attacks = Attacks()
    attacks.process(with_strokes(np.zeros(RATE), 20_000, 40_000).astype(np.float32))
    attacks.process(np.zeros(0, dtype=np.float32))
    attacks.forget(30_000)
    assert len(attacks.places) == 1
    assert RATE - 300 < attacks.known <= RATE
