"""The loop with threads: sound on the card's, listening on one, the Box on one, disk and replay on theirs."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from firmware.box import Box
from firmware.errors import KeelnoteError
from firmware.events import Event, Fault, PowerDown, Tick
from firmware.ports import Keyboard
from firmware.sound.engine import Engine
from firmware.units import Samples
from hardware.card_keeper import CardKeeper
from hardware.dispatch import Dispatcher
from hardware.inbox import Inbox
from hardware.listener import Listener
from hardware.tape import Tape

TICK_SECONDS: Final = 0.05
"""Between two ticks of the Box."""

POLL_SECONDS: Final = 0.004
"""Between two looks of the listener at an empty tape; waking it from the callback would take a lock there."""

STOP_SECONDS: Final = 5.0
"""What each step of stopping is allowed."""

SWITCH_SECONDS: Final = 0.0005
"""For sys.setswitchinterval, set once by the entry point: the callback waits at most this long for a busy thread."""

EMPTY: Final = np.zeros(0, dtype=np.float32)


class Service(Protocol):
    """Work on a thread of its own: the disk, the replay."""

    def start(self) -> None:
        """Begin."""

    def stop(self) -> object:
        """Finish what is queued, then end; a second call does nothing."""


@dataclass(frozen=True, slots=True)
class _Mark(Event):
    """Comes back to whoever waits for all events before it to be dealt with."""

    reached: threading.Event


class LiveLoop:
    """Runs the whole box in real time.

    Parameters
    ----------
    box, engine, listener, dispatcher
        The composed box.
    inbox
        Where drivers, listener and disk post.
    keeper : function
        Makes the card keeper from a function (message, detail) that is told of a lost card.
    disk, replay
        What writes and reads the stick; started and stopped with the loop.
    microphone : function or None
        Gives `count` samples in place of the card's microphone.
    keyboard
        Keyboards that may be plugged in; started and stopped with the loop.
    """

    def __init__(
        self,
        box: Box,
        engine: Engine,
        listener: Listener,
        dispatcher: Dispatcher,
        inbox: Inbox,
        keeper: Callable[[Callable[[str, str], None]], CardKeeper],
        *,
        disk: Service,
        replay: Service,
        microphone: Callable[[int], Samples] | None = None,
        keyboard: Keyboard | None = None,
        tape: Tape | None = None,
    ) -> None:
        self._box = box
        self._engine = engine
        self._listener = listener
        self._dispatcher = dispatcher
        self._inbox = inbox
        self._disk = disk
        self._replay = replay
        self._microphone = microphone
        self._keyboard = keyboard
        self._tape = tape or Tape()
        self._heard_to = engine.position
        self._ticks = 0
        self._sound_ended = threading.Event()
        self._box_ended = threading.Event()
        self._running = False
        self.card = keeper(self._card_changed)
        self.faults = 0
        self.last_fault = ""
        self._listening = threading.Thread(target=self._listen, name="listener", daemon=True)
        self._deciding = threading.Thread(target=self._decide, name="box", daemon=True)

    @property
    def dropped(self) -> int:
        """Blocks and events that found a full queue."""
        return self._tape.dropped + self._inbox.dropped

    @property
    def takes(self) -> int:
        """Takes that were begun."""
        return self._dispatcher.takes

    @property
    def progress(self) -> tuple[int, int, int]:
        """Counts that go up while it works: samples played, ticks of the Box, samples heard."""
        return self._engine.position, self._ticks, self._heard_to

    def now(self) -> int:
        """Samples done; the time of every event."""
        return self._engine.position

    def post(self, event: Event) -> None:
        """Hand an event to the Box; never waits."""
        self._inbox.post(event)

    def start(self) -> None:
        """Start all threads, then the sound, then the keyboards. A loop runs once."""
        self._running = True
        for part in (self._disk, self._replay, self._deciding, self._listening):
            part.start()
        self.card.start(self._sound)
        if self._keyboard is not None:
            self._keyboard.start(self.post, self.now)

    def stop(self) -> None:
        """End in order: the Box's last wishes, sound, what was heard, disk; a second call does nothing."""
        if not self._running:
            return
        self._running = False
        if self._keyboard is not None:
            self._keyboard.stop()
        self.post(PowerDown(self.now()))
        self._settle()
        self.card.stop()
        self._sound_ended.set()
        self._listening.join(STOP_SECONDS)
        self._replay.stop()
        self._disk.stop()
        # What the disk said when it closed the take may still lead to a line in a file, so it ends twice.
        self._settle()
        self._disk.stop()
        self._box_ended.set()
        self._deciding.join(STOP_SECONDS)

    # --- one function per thread ------------------------------------------------------------------------------------

    def _sound(self, mic: Samples) -> Samples:
        # The audio callback: no lock, no I/O, nothing that waits.
        position = self._engine.position
        if self._microphone is not None:
            mic = self._microphone(len(mic))
        own = self._engine.process(mic)
        self._tape.put(mic, own, position)
        return own

    def _listen(self) -> None:
        while True:
            ended = self._sound_ended.is_set()
            piece = self._tape.take()
            if piece is not None:
                self._guard(self._fill_gap, piece.position)
                self._guard(self._listener.hear, piece.mic, piece.own)
                self._heard_to = piece.position + len(piece.mic)
            elif ended:
                # The recorder reads its notes, also that of the last stop, when it hears a block.
                self._guard(self._listener.hear, EMPTY, EMPTY)
                return
            else:
                self._sound_ended.wait(POLL_SECONDS)

    def _fill_gap(self, position: int) -> None:
        # What the tape dropped becomes silence, so that a take keeps its length and its place on the clock.
        gap = position - self._heard_to
        if gap > 0:
            silence = np.zeros(gap, dtype=np.float32)
            self._listener.hear(silence, silence)

    def _decide(self) -> None:
        due = time.monotonic()
        while not self._box_ended.is_set():
            wait = due - time.monotonic()
            if wait <= 0:
                due = max(due + TICK_SECONDS, time.monotonic())
                self._guard(self._tick)
                continue
            event = self._inbox.next(wait)
            if isinstance(event, _Mark):
                event.reached.set()
            elif event is not None:
                self._guard(self._handle, event)

    # --- helpers ----------------------------------------------------------------------------------------------------

    def _tick(self) -> None:
        self._handle(Tick(self.now()))
        self._ticks += 1

    def _handle(self, event: Event) -> None:
        for command in self._box.handle(event):
            self._guard(self._dispatcher.do, command)

    def _guard(self, work: Callable[..., object], *values: object) -> None:
        try:
            work(*values)
        except Exception as error:  # noqa: BLE001 - one bad command must not end a thread in the middle of a rehearsal
            self.faults += 1
            self._tell(error)

    def _tell(self, error: Exception) -> None:
        # Told once, not once a block; and an error while one is told is not told again.
        text = error.text if isinstance(error, KeelnoteError) else f"{type(error).__name__}: {error}"
        if text != self.last_fault:
            self.last_fault = text
            self.post(Fault(self.now(), "error", text))

    def _settle(self) -> None:
        mark = _Mark(self.now(), threading.Event())
        self._inbox.post(mark)
        mark.reached.wait(STOP_SECONDS)

    def _card_changed(self, message: str, detail: str) -> None:
        self.post(Fault(self.now(), message, detail))
