"""Onsets only while they are wanted, at their place in the whole stream."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.heard_events import Onset
from firmware.hearing.onsets_gate import OnsetsWhile
from firmware.hearing.room import Room
from firmware.units import RATE

BLOCK = 480


def stream(seconds: int) -> np.ndarray:
    """A stroke every half second, the first after a quarter."""
    sound = 1e-4 * np.random.default_rng(1).standard_normal(seconds * RATE)
    stroke = 0.3 * np.cos(2 * np.pi * 900 * np.arange(4800) / RATE) * np.exp(-np.arange(4800) / 900)
    for at in range(RATE // 4, seconds * RATE - 4800, RATE // 2):
        sound[at : at + 4800] += stroke
    return sound.astype(np.float32)


def test_it_hears_while_wanted_and_a_little_longer():
    mic, now, found = stream(8), 0, list[Onset]()
    gate = OnsetsWhile(lambda: 2 * RATE <= now < 4 * RATE, latency=96)
    for now in range(0, len(mic), BLOCK):
        found += gate.process(mic[now : now + BLOCK], np.zeros(BLOCK, np.float32))
    times = [onset.at / RATE for onset in found]
    assert times[:4] == pytest.approx([2.25, 2.75, 3.25, 3.75], abs=0.0005)
    assert times[-1] < 5.0
    assert {onset.late for onset in found} == {96}


def test_when_wanted_again_it_begins_anew_and_knows_the_place():
    mic, now, found = stream(9), 0, list[Onset]()
    gate = OnsetsWhile(lambda: now < RATE or 6 * RATE <= now < 7 * RATE, latency=0)
    for now in range(0, len(mic), BLOCK):
        found += gate.process(mic[now : now + BLOCK], np.zeros(BLOCK, np.float32))
    times = [onset.at / RATE for onset in found]
    assert [time for time in times if 2.1 < time < 6.0] == []
    assert [time for time in times if time > 6.0][:2] == pytest.approx([6.25, 6.75], abs=0.0005)


def test_when_never_wanted_it_hears_nothing():
    gate = OnsetsWhile(lambda: False, latency=0)
    assert gate.process(stream(1), np.zeros(RATE, np.float32)) == ()


def room_of(delay: float) -> Room:
    empty = np.zeros(1)
    return Room(
        RATE, empty, 0, 0, empty, empty, delay, -10.0, 0.5, -60.0, -60.0, 0.0, -120.0, 0.0, 1.0, -60.0, clipped=False
    )


def test_before_any_click_the_room_check_says_how_late_sound_comes():
    gate = OnsetsWhile(lambda: True, latency=96)
    gate.learn(room_of(700.4))
    found = gate.process(stream(2), np.zeros(2 * RATE, np.float32))
    assert found
    assert {onset.late for onset in found} == {796}


def test_what_the_clicks_tell_counts_more():
    own = stream(6)
    mic = np.concatenate([np.zeros(960, np.float32), own[:-960]]) + stream(6) * np.float32(1e-3)
    mic[5 * RATE + 6000 : 5 * RATE + 9000] += own[RATE // 4 : RATE // 4 + 3000]
    gate = OnsetsWhile(lambda: True, latency=0)
    gate.learn(room_of(9000.0))
    found = gate.process(mic, own)
    assert found
    assert found[-1].late == pytest.approx(960, abs=48)
