"""The room check on a stream: keeps the stretch that was asked for, and learns from it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from firmware.events import Event, Fault
from firmware.hearing.room import Room
from firmware.hearing.room_check import RoomCheckError, learn_room
from firmware.room_events import RoomChecked
from firmware.units import RATE, Samples

LINES_HZ = (100.0, 1000.0)


def told(room: Room, at: int) -> RoomChecked:
    """What a room is like, as an event."""
    hz = np.geomspace(*LINES_HZ, 60)
    size, error = np.abs(room.response_at(hz)), room.error_at(hz)
    return RoomChecked(
        at=at,
        level_db=room.level_db,
        delay_ms=1000.0 * room.delay / room.rate,
        rt60_s=room.rt60,
        floor_db=room.floor_a_db,
        hum_hz=room.hum_hz,
        clock_ppm=room.clock_ppm,
        distortion_db=room.distortion_db,
        clipped=room.clipped,
        removal_db=float(10.0 * np.log10(np.mean(size**2) / np.mean(error**2))),
    )


class RoomListener:
    """Collects what the room check needs and learns the room when it is over.

    Parameters
    ----------
    rate : int
        Samples per second.
    learned : function
        Is handed the room when a check went well, between two blocks.

    Attributes
    ----------
    room : Room or None
        What was learned last; its `since` counts samples of the stream.
    """

    def __init__(self, rate: int = RATE, learned: Callable[[Room], object] = lambda _room: None) -> None:
        self._rate = rate
        self._learned = learned
        self._done = 0
        self._wanted: tuple[int, int] | None = None
        self._kept: list[tuple[Samples, Samples]] = []
        self._first = 0
        self.room: Room | None = None

    def check(self, first: int, end: int) -> None:
        """Learn from samples `first` to before `end`; what came before this call is lost. May be called anew."""
        self._wanted = (first, end)

    def process(self, mic: Samples, own: Samples) -> tuple[Event, ...]:
        """Take in a block of the microphone and of own sound, shape (n,); the outcome when the check is over."""
        begin, self._done = self._done, self._done + len(mic)
        wanted = self._wanted
        if wanted is None or self._done <= wanted[0]:
            return ()
        if not self._kept or self._first < wanted[0]:
            self._kept, self._first = [], max(begin, wanted[0])
        inside = slice(max(0, wanted[0] - begin), max(0, wanted[1] - begin))
        self._kept.append((mic[inside].copy(), own[inside].copy()))
        if self._done < wanted[1]:
            return ()
        self._wanted = None
        kept, self._kept = self._kept, []
        return (self._learn(*(np.concatenate(blocks) for blocks in zip(*kept, strict=True))),)

    def _learn(self, mic: Samples, own: Samples) -> Event:
        try:
            self.room = learn_room(mic, own, self._rate).later(self._first)
        except RoomCheckError as error:
            return Fault(self._done, error.message, error.text)
        self._learned(self.room)
        return told(self.room, self._done)
