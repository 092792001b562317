"""What listens to several players: partials all the time, chords when it is asked to."""

from __future__ import annotations

import numpy as np

from firmware.heard_events import ChordHeld, ChordRead, PartialsHeard
from firmware.hearing.chord_listener import ChordListener
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.units import RATE, Samples

BLOCK = 512
HARMONY = Harmony(key_of("Bb", "major"))


def triad(seconds: float) -> Samples:
    time = np.arange(round(seconds * RATE)) / RATE
    partials = [(ratio * n, n) for ratio in (1, 5 / 4, 3 / 2) for n in range(1, 9)]
    sound = sum(0.03 / n * np.sin(2 * np.pi * 233.0819 * f * time + n * n) for f, n in partials)
    return np.asarray(sound + 1e-4 * np.random.default_rng(4).standard_normal(len(time)), np.float32)


def hear(listener: ChordListener, sound: Samples) -> list[PartialsHeard | ChordRead | ChordHeld]:
    blocks = [sound[at : at + BLOCK] for at in range(0, len(sound), BLOCK)]
    return [one for block in blocks for one in listener.process(block, np.zeros(len(block), np.float32))]


def test_partials_come_all_the_time_chords_when_asked() -> None:
    listener = ChordListener()
    told = hear(listener, triad(1.5))
    assert {type(one) for one in told} == {PartialsHeard}
    assert len(told) == 9
    listener.attend(HARMONY)
    told = hear(listener, triad(1.6))
    assert next(one.chord for one in told if isinstance(one, ChordRead)) == "B♭ major"
    listener.attend(None)
    told = hear(listener, triad(0.2))
    assert [one.chord for one in told if isinstance(one, ChordHeld)] == ["B♭ major"]
    assert not any(isinstance(one, ChordHeld) for one in hear(listener, triad(1.5)))
