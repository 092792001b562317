"""The click over a drone with nobody playing and no room check: no onset is told, whatever the drone does."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.onsets_gate import OnsetsWhile
from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, PulseSound, Sound, ToneSound
from firmware.units import BLOCK, RATE, Samples
from hardware.simulated.convolver import Convolver
from hardware.simulated.room import pink_noise, response

FIRST = 6.0
"""Seconds from power-on to the pulse."""


def told(root: float, level_db: float, *, apart: bool = True, changes: bool = False, player: bool = False) -> int:
    """How many onsets are told in half a minute; a player knocks every 1.1 s, if there is one."""
    generator = np.random.default_rng(int(root))
    room = Convolver(np.stack([response(0.6, 1100, -6.0, generator)]), BLOCK)
    noise = pink_noise(32 * RATE, -64.0, generator)
    engine = Engine()
    onsets = OnsetsWhile(lambda: engine.sound.pulse.on, engine.latency, engine.clicked.read if apart else None)
    program = Program(curve=Curve(92.0 / 4))
    knock = 0.1 * generator.standard_normal(2400) * np.exp(-np.arange(2400) / 600)
    found, own = 0, np.zeros(BLOCK, np.float32)
    for at in range(0, 30 * RATE, BLOCK):
        seconds = at / RATE
        turned = 1.5 ** (int(seconds // 4) % 2) if changes else 1.0
        tones = tuple(ToneSound(root * turned * ratio) for ratio in (1, 1.5, 2, 3))
        engine.sound = Sound(
            drone=DroneSound(on=seconds > 1.0, tones=tones, level_db=level_db),
            pulse=PulseSound(on=seconds >= FIRST, start=FIRST * RATE, program=program, run=1),
        )
        mic: Samples = room.process(own[None, :]) + noise[at : at + BLOCK]
        if player and at // BLOCK % round(1.1 * RATE / BLOCK) == 0:
            mic += knock[:BLOCK].astype(np.float32)
        own = engine.process(mic)
        found += len(onsets.process(mic, own))
    return found


@pytest.mark.parametrize(("root", "level_db"), [(98.0, -20.0), (77.8, -12.0), (116.5, -28.0)])
def test_nobody_plays_to_it(root: float, level_db: float) -> None:
    assert told(root, level_db) == 0


def test_the_check_can_fail() -> None:
    assert told(98.0, -20.0, apart=False) > 0


def test_nor_when_the_key_changes_every_few_beats() -> None:
    assert told(98.0, -20.0, changes=True) == 0


def test_but_somebody_who_plays_is_heard() -> None:
    assert 17 <= told(98.0, -20.0, changes=True, player=True) <= 23
