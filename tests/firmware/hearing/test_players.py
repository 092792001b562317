"""Ear and chord listener on one cleaned stream."""

from __future__ import annotations

import numpy as np

from firmware.heard_events import ChordRead, Heard
from firmware.hearing.ear import Ear
from firmware.hearing.players import PlayersListener
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.units import RATE, Samples
from tests.firmware.hearing.rooms import CHECK, CHECK_SECONDS, checked, drone, place, played, tone


def run(listener: PlayersListener | Ear, mic: np.ndarray, own: Samples, block: int = 2048) -> list[object]:
    told: list[object] = []
    for i in range(0, len(mic), block):
        told += listener.process(mic[i : i + block].astype(np.float32), own[i : i + block])
    return told


def test_both_hear_and_the_ear_as_it_does_alone() -> None:
    hz = 233.08
    triad = sum(np.pad(tone(hz * ratio, 2.5), (24_000, 0)) for ratio in (1, 1.25, 1.5))
    mic = 0.03 * triad + 1e-4 * np.random.default_rng(1).standard_normal(len(triad))
    own = np.zeros(len(mic), np.float32)
    both = PlayersListener()
    both.attend(Harmony(key=key_of("Bb", "major")), told=True)
    told = run(both, mic, own)
    assert any(isinstance(one, ChordRead) and one.chord for one in told)
    assert [one for one in told if isinstance(one, Heard)] == run(Ear(), mic, own)


def test_the_gain_of_the_microphone_does_not_touch_the_removal() -> None:
    own = played((CHECK, CHECK_SECONDS), (drone(116.54, 233.08), 3.0))
    mic = place().mic(own)
    start = round((CHECK_SECONDS + 1.5) * RATE)
    hz = 233.08 * 2 ** (6 / 1200)
    mic[start:] += 0.01 * tone(hz, 1.5)[: len(mic) - start]
    cut = round(CHECK_SECONDS * RATE)
    plain, turned = PlayersListener(), PlayersListener()
    readings = []
    for listener, gains in ((plain, (0.0, 0.0)), (turned, (6.0, 12.0))):
        listener.amplify(gains[0])
        run(listener, mic[:cut], own[:cut])
        # The check hears the microphone with its gain.
        listener.learn(checked().amplified(gains[0]))
        told = run(listener, mic[cut:start], own[cut:start])
        listener.amplify(gains[1])
        told += run(listener, mic[start:], own[start:])
        readings.append([one for one in told if isinstance(one, Heard) and one.hz is not None])
    assert len(readings[0]) == len(readings[1]) > 20
    for one, other in zip(*readings, strict=True):
        assert abs(1200 * np.log2(one.hz / hz)) < 0.2
        assert abs(1200 * np.log2(other.hz / one.hz)) < 0.02
    assert abs(readings[1][-1].level_db - readings[0][-1].level_db - 12.0) < 0.05
