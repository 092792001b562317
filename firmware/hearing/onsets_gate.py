"""Listens for onsets only while it is wanted, and keeps what it has learnt of the room from one time to the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from firmware.heard_events import Onset
from firmware.hearing.onsets import Onsets
from firmware.hearing.room import Room
from firmware.units import RATE, Samples

EDGE: Final = 4096
"""Samples after it begins to listen: what sounded before would seem to begin there."""

LINGER: Final = RATE
"""Samples for which it listens on: the last onsets become certain only later."""


class OnsetsWhile:
    """Onsets of the stream while the pulse runs.

    Parameters
    ----------
    wanted : function
        Whether to listen.
    latency : int
        Samples by which own sound leaves the engine later than the pulse's program says; counted into `Onset.late`.
    clicked : function or None
        The next samples of the click's share of own sound, as many as it is asked for; without it, own sound is one.
    """

    def __init__(
        self, wanted: Callable[[], bool], latency: int, clicked: Callable[[int], Samples] | None = None
    ) -> None:
        self._clicked = clicked
        self._wanted = wanted
        self._latency = latency
        self._onsets: Onsets | None = None
        self._path = Onsets().path
        self._position = 0
        self._began = 0
        self._until = 0
        self._checked = 0

    def learn(self, room: Room) -> None:
        """Take the way through card, loudspeaker and air from a room check, until clicks have told it themselves."""
        self._checked = round(room.delay)

    def process(self, mic: Samples, own: Samples) -> tuple[Onset, ...]:
        """Hear a block of the microphone and what the box played, both shape (n,); onsets that became certain."""
        began = self._position
        self._position += len(mic)
        struck = None if self._clicked is None else self._clicked(len(mic))
        if self._wanted():
            self._until = began + LINGER
        if began >= self._until:
            if self._onsets is not None:
                self._path = self._onsets.path
            self._onsets = None
            return ()
        if self._onsets is None:
            self._onsets = Onsets(path=self._path.again())
            self._began = began
        found = self._onsets.process(mic, own, struck)
        return tuple(
            replace(onset, at=onset.at + self._began, late=(onset.late or self._checked) + self._latency)
            for onset in found
            if onset.at >= EDGE
        )
