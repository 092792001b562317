"""Lets the ear hear a replay instead of the microphone, while the room goes on being listened to."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Protocol

import numpy as np

from firmware.event_times import later
from firmware.events import Event
from firmware.music.harmony import Harmony
from firmware.sound.tap import Tap
from firmware.units import Samples


class Players(Protocol):
    """What listens to players."""

    def attend(self, harmony: Harmony | None, told: bool = False) -> None:  # noqa: FBT001, FBT002 - as the command says it
        """Read held chords by this harmony."""

    def amplify(self, gain_db: float) -> None:
        """Go by this gain of the microphone."""

    def process(self, mic: Samples, own: Samples) -> Iterable[Event]:
        """What became known with this block."""


class ReplayEar:
    """Stands in front of the ear. The replay has an ear of its own, which needs no own sound taken out.

    Parameters
    ----------
    room : Players
        The ear for the microphone; it hears all the time, so that it knows the box's own sound when it is asked again.
    tap : Tap
        What the engine replays, sample for sample beside the microphone.
    make : function
        Makes the ear for a replay, a fresh one each time.
    """

    def __init__(self, room: Players, tap: Tap, make: Callable[[], Players]) -> None:
        self._room = room
        self._tap = tap
        self._make = make
        self._wanted = False
        self._replay: Players | None = None
        self._begun = 0
        self._count = 0
        self._attended: tuple[Harmony | None, bool] = (None, False)

    def hear_replay(self, on: bool) -> None:  # noqa: FBT001 - one switch, one value
        """Hear the replay from the next block on, or the room again; may be called from any thread."""
        self._wanted = on

    def attend(self, harmony: Harmony | None, told: bool = False) -> None:  # noqa: FBT001, FBT002 - as the command says it
        """Read held chords by this harmony, wherever they come from; may be called from any thread."""
        self._attended = (harmony, told)
        self._room.attend(harmony, told)
        replay = self._replay
        if replay is not None:
            replay.attend(harmony, told)

    def amplify(self, gain_db: float) -> None:
        """Go by this gain of the microphone; a replay is heard as it is."""
        self._room.amplify(gain_db)

    def process(self, mic: Samples, own: Samples) -> Iterable[Event]:
        """What became known with this block, from the replay or from the room; times are those of the one clock."""
        heard = self._room.process(mic, own)
        replayed = self._tap.read(len(mic))
        begun, self._count = self._count, self._count + len(mic)
        if not self._wanted:
            self._replay = None
            return heard
        if self._replay is None:
            self._replay, self._begun = self._make(), begun
            self._replay.attend(*self._attended)
        told = self._replay.process(replayed, np.zeros(len(mic), dtype=np.float32))
        return tuple(later(event, self._begun) for event in told)
