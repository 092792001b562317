"""The ear hears the replay when it is told to, on the one clock, and the room again afterwards."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.heard_events import Heard
from firmware.hearing.players import PlayersListener
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.sound.tap import Tap
from firmware.units import BLOCK, RATE, Samples
from hardware.replay_ear import ReplayEar

SECONDS = 6


def tone(hz: float) -> Samples:
    t = np.arange(SECONDS * RATE) / RATE
    return np.asarray(sum(0.1 * np.sin(2 * np.pi * hz * k * t) / k for k in range(1, 6)), dtype=np.float32)


def test_the_replay_is_heard_only_while_it_is_asked_for() -> None:
    tap = Tap()
    ear = ReplayEar(PlayersListener(), tap, PlayersListener)
    ear.amplify(0.0)
    mic, replay, own = tone(220.0), tone(330.0), np.zeros(BLOCK, np.float32)
    heard: list[Heard] = []
    for at in range(0, SECONDS * RATE, BLOCK):
        ear.hear_replay(2 * RATE <= at < 4 * RATE)
        tap.write(replay[at : at + BLOCK], len(replay[at : at + BLOCK]))
        heard += [one for one in ear.process(mic[at : at + BLOCK], own[: len(mic) - at]) if isinstance(one, Heard)]
    for begin, end, hz in ((0.3, 1.8, 220.0), (2.3, 3.8, 330.0), (4.3, 5.8, 220.0)):
        read = [one.hz for one in heard if begin * RATE < one.at < end * RATE]
        assert len(read) >= 30
        assert all(one == pytest.approx(hz, rel=1e-4) for one in read)
    assert [one.at for one in heard] == sorted(one.at for one in heard)


class Attended(PlayersListener):
    """An ear that says by what it reads chords."""

    def __init__(self) -> None:
        super().__init__()
        self.harmony: Harmony | None = None

    def attend(self, harmony: Harmony | None, told: bool = False) -> None:  # noqa: FBT001, FBT002 - as the ear says it
        super().attend(harmony, told)
        self.harmony = harmony


def test_chords_are_read_by_the_same_harmony_in_the_replay() -> None:
    made: list[Attended] = []

    def make() -> Attended:
        made.append(Attended())
        return made[-1]

    ear = ReplayEar(make(), Tap(), make)
    first = Harmony(key=key_of("Bb", "major"), tuning="just", a4=440.0)
    second = Harmony(key=key_of("F", "major"), tuning="just", a4=440.0)
    silence = np.zeros(BLOCK, np.float32)
    ear.attend(first)
    ear.hear_replay(on=True)
    ear.process(silence, silence)
    assert [one.harmony for one in made] == [first, first]
    ear.attend(second)
    assert [one.harmony for one in made] == [second, second]
    ear.hear_replay(on=False)
    ear.process(silence, silence)
    ear.hear_replay(on=True)
    ear.process(silence, silence)
    assert len(made) == 3
