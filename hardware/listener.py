"""What happens to a microphone block after the engine has had it: gain, take, level, ear. Used by both loops."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Protocol

import numpy as np

from firmware.events import Event
from firmware.heard_events import LevelRead
from firmware.ports import Post
from firmware.takes.recorder import Chunk
from firmware.units import Samples, gain_of


class Hearer(Protocol):
    """What listens to the players, one or several."""

    def amplify(self, gain_db: float) -> None:
        """Go by this gain of the microphone, which `process` is given without it."""

    def process(self, mic: Samples, own: Samples) -> Iterable[Event]:
        """What became known with this block."""


class Meter(Protocol):
    """The level meter."""

    def process(self, mic: Samples) -> tuple[LevelRead, ...]:
        """Levels that became ready with this block."""


class Watch(Protocol):
    """What watches microphone and own sound: the room check, the level of the room."""

    def process(self, mic: Samples, own: Samples) -> Iterable[Event]:
        """What there is to tell after this block."""


class Beginnings(Protocol):
    """What hears notes begin."""

    def process(self, mic: Samples, own: Samples) -> Iterable[Event]:
        """Onsets that became certain with this block."""


class Cutter(Protocol):
    """The recorder."""

    def process(self, mic: Samples, own: Samples) -> Iterable[Chunk]:
        """Chunks of a take that this block completes, in order."""


class Listener:
    """Hands each block to the recorder, the level meter and, when it is on, the ear.

    Parameters
    ----------
    ear, meter, recorder
        What listens.
    submit
        Takes the recorder's chunks to the stick; never waits.
    post
        Takes events to the box; never waits.
    watch
        Watches the level of the room, before the gain, so that a calibration holds when the gain is turned.
    room_check
        Learns the room when it is asked to.
    onsets
        Hears where notes begin, and knows by itself when to.
    """

    def __init__(
        self,
        ear: Hearer,
        meter: Meter,
        recorder: Cutter,
        submit: Callable[[Chunk], object],
        post: Post,
        *,
        watch: Watch | None = None,
        room_check: Watch | None = None,
        onsets: Beginnings | None = None,
    ) -> None:
        self._watch = watch
        self._room_check = room_check
        self._onsets = onsets
        self._ear = ear
        self._meter = meter
        self._recorder = recorder
        self._submit = submit
        self._post = post
        self._on = False
        self._gain = np.float32(1.0)

    def listen(self, on: bool) -> None:  # noqa: FBT001 - one switch, one value
        """Switch the ear on or off. It hears the room either way, so that it knows the box's own sound when asked."""
        self._on = on

    def amplify(self, gain_db: float) -> None:
        """Set the gain of the microphone in dB."""
        self._gain = np.float32(gain_of(gain_db))
        self._ear.amplify(gain_db)

    def hear(self, mic: Samples, own: Samples) -> None:
        """Take in one block of the microphone and what the box played at the same samples, both shape (n,)."""
        block = mic if self._gain == 1.0 else np.clip(mic * self._gain, -1.0, 1.0).astype(np.float32)
        for chunk in self._recorder.process(block, own):
            self._submit(chunk)
        self._pass_on(self._meter.process(block))
        if self._watch is not None:
            self._pass_on(self._watch.process(mic, own))
        if self._room_check is not None:
            self._pass_on(self._room_check.process(block, own))
        if self._onsets is not None:
            self._pass_on(self._onsets.process(block, own))
        # Before the gain, so that own sound stays as strong as it is when the gain is turned.
        heard = self._ear.process(mic, own)
        if self._on:
            self._pass_on(heard)

    def _pass_on(self, events: Iterable[Event]) -> None:
        for event in events:
            self._post(event)
