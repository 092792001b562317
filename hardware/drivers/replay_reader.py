"""Reads a take back from the stick and keeps the engine fed with it."""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass
from functools import partial
from typing import Final, Protocol

import numpy as np

from firmware.errors import KeelnoteError
from firmware.events import Fault
from firmware.passage import Passage
from firmware.ports import Now, Post, Stick
from firmware.sound.passage_sound import PassageSound
from firmware.take_events import ReplayEnded
from firmware.units import Samples

WAKE_SECONDS: Final = 0.05
"""How often the thread looks whether the engine wants more."""


class ReplayEngine(Protocol):
    """What the reader needs of the engine."""

    def feed(self, token: int, samples: Samples, last: bool) -> int:  # noqa: FBT001 - the engine's own signature
        """Take samples of the replay `token`, and say how many there was room for."""

    def replay_done(self, token: int) -> bool:
        """Whether the replay `token` has been heard to its end."""

    def replay_wants(self) -> int:
        """Samples there is room for."""


@dataclass(frozen=True, slots=True)
class _Opened:
    path: str
    token: int
    passage: Passage


class ReplayFeeder:
    """Feeds takes to the engine, from a thread of its own (`start`) or from a loop that calls `pump`.

    Without a thread `open` delivers the first samples before it returns; with one it wakes that and returns at once.
    With `post`, the end of the take is posted as ReplayEnded when it was heard, and one that can't be read as a Fault.

    Parameters
    ----------
    stick : Stick
        Where the takes are.
    engine : ReplayEngine
        Who plays them.
    post, now : callable
        How to report, and the sample count of the one clock.
    """

    def __init__(self, stick: Stick, engine: ReplayEngine, post: Post | None = None, now: Now | None = None) -> None:
        self._stick = stick
        self._engine = engine
        self._post = post
        self._now = now or (lambda: 0)
        self._orders: deque[_Opened | None] = deque()
        self._take: _Opened | None = None
        self._sound: PassageSound | None = None
        self._fed_all = self._fresh = False
        self._feeding = threading.Lock()
        self._rest: Samples = np.zeros(0, dtype=np.float32)
        self._wake = threading.Event()
        self._thread: threading.Thread | None = None
        self._stopping = False

    @property
    def feeding(self) -> bool:
        """Whether there is more of a take to come."""
        return self._take is not None and not self._fed_all

    def open(self, path: str, token: int, passage: Passage) -> None:
        """Begin to feed a passage of the take at `path`, as the replay `token`."""
        self._order(_Opened(path, token, passage))

    def close(self) -> None:
        """Stop feeding; without a replay nothing happens."""
        self._order(None)

    def pump(self) -> None:
        """Give the engine what it wants, and say when it has played all of it."""
        with self._feeding:
            while self._orders:
                self._begin(self._orders.popleft())
            while self.feeding and not self._orders and (self._fresh or self._engine.replay_wants() > 0):
                if not self._feed_piece():
                    break
            self._watch_end()

    def start(self) -> None:
        """Begin to feed on a thread of its own; a second call does nothing."""
        if self._thread is None:
            self._stopping = False
            self._thread = threading.Thread(target=self._run, name="keelnote-replay", daemon=True)
            self._thread.start()

    def stop(self, timeout: float = 2.0) -> None:
        """End the thread; a second call does nothing."""
        thread, self._thread = self._thread, None
        if thread is not None:
            self._stopping = True
            self._wake.set()
            thread.join(timeout)

    def _order(self, order: _Opened | None) -> None:
        self._orders.append(order)
        if self._thread is None:
            self.pump()
        else:
            self._wake.set()

    def _run(self) -> None:
        while not self._stopping:
            self._wake.wait(WAKE_SECONDS)
            self._wake.clear()
            self.pump()

    def _begin(self, take: _Opened | None) -> None:
        self._take = take
        self._sound = None if take is None else PassageSound(take.passage, partial(self._stick.read_take, take.path))
        self._fed_all = False
        self._fresh = take is not None
        self._rest = self._rest[:0]

    def _feed_piece(self) -> bool:
        take, sound = self._take, self._sound
        if take is None or sound is None:
            return False
        if len(self._rest) == 0 and not sound.over:
            try:
                self._rest = sound.next()
            except KeelnoteError as error:
                self._give_up(take, error)
                return False
            if len(self._rest) == 0 and not sound.over:
                return True  # what makes it slower wants more before it gives any
        # A new token makes room for itself, so the first piece is not asked for: the engine still plays the one before.
        self._fresh = False
        accepted = self._engine.feed(take.token, self._rest, sound.over)
        self._rest = self._rest[accepted:]
        self._fed_all = sound.over and len(self._rest) == 0
        return accepted > 0

    def _watch_end(self) -> None:
        if self._take is not None and self._fed_all and self._engine.replay_done(self._take.token):
            token, self._take = self._take.token, None
            if self._post is not None:
                self._post(ReplayEnded(self._now(), token))

    def _give_up(self, take: _Opened, error: KeelnoteError) -> None:
        self._fed_all = True
        self._engine.feed(take.token, np.zeros(0, dtype=np.float32), True)  # noqa: FBT003 - the engine's own signature
        if self._post is not None:
            self._post(Fault(self._now(), "replay-failed", error.text))
