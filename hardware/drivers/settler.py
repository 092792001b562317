"""The thread that waits for contacts to keep still and posts what became certain."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace

from firmware.events import Event, KnobTurn
from firmware.ports import Now, Post
from hardware.drivers.debounce import Contact, edge, settled


class Settler:
    """Posts the events of bouncing contacts, in the order of their sample counts.

    Parameters
    ----------
    post, now
        Where events go, and the sample count.
    clock
        Seconds.
    """

    def __init__(self, post: Post, now: Now, clock: Callable[[], float]) -> None:
        self._post = post
        self._now = now
        self._clock = clock
        self._contacts: list[Contact] = []
        self._events: list[tuple[Callable[[int], Event], Callable[[int], Event]]] = []
        self._down: set[int] = set()
        self._turned: KnobTurn | None = None
        self._latest = 0
        self._ended = False
        self._changed = threading.Condition()
        self._thread = threading.Thread(target=self._run, name="panel", daemon=True)

    def add(self, settle: float, down: Callable[[int], Event], up: Callable[[int], Event], *, closed: bool) -> int:
        """Take a contact in, before the start; gives the number by which `edge` knows it.

        One that is closed at first says nothing until it was open once: a jammed key is no press.
        """
        self._contacts.append(Contact(settle, closed=closed, raw=closed))
        self._events.append((down, up))
        return len(self._contacts) - 1

    def edge(self, number: int, *, closed: bool) -> None:
        """Note that a contact closed or opened just now; may be called from any thread."""
        with self._changed:
            contact = self._contacts[number]
            if contact.raw == closed:
                return
            self._contacts[number] = edge(contact, closed=closed, time=self._clock(), at=self._now())
            self._changed.notify()

    def turn(self, steps: int) -> None:
        """Note a turn of the knob; may be called from any thread. Turns that wait become one, so that none is lost."""
        with self._changed:
            waiting = self._turned or KnobTurn(self._now(), 0)
            self._turned = replace(waiting, steps=waiting.steps + steps)
            self._changed.notify()

    def start(self) -> None:
        """Begin to post."""
        self._thread.start()

    def stop(self) -> None:
        """End; what has not settled is forgotten."""
        with self._changed:
            self._ended = True
            self._changed.notify()
        if self._thread.ident is not None and self._thread is not threading.current_thread():
            self._thread.join()

    def certain(self) -> list[Event]:
        """Events that are certain by now, in the order of their sample counts."""
        time = self._clock()
        found: list[Event] = [self._turned] if self._turned and self._turned.steps else []
        self._turned = None
        for number, contact in enumerate(self._contacts):
            self._contacts[number], change = settled(contact, time)
            if change is None:
                continue
            down, up = self._events[number]
            if change.closed:
                self._down.add(number)
                found.append(down(change.at))
            elif number in self._down:
                self._down.remove(number)
                found.append(up(change.at))
        return sorted(found, key=lambda event: event.at)

    def _run(self) -> None:
        while True:
            with self._changed:
                events = self.certain()
                if not events:
                    if self._ended:
                        return
                    self._changed.wait(self._patience())
                    continue
            for event in events:
                # A turn of the knob may have been posted while an earlier press still settled.
                self._latest = max(self._latest, event.at)
                self._post(event if event.at == self._latest else replace(event, at=self._latest))

    def _patience(self) -> float | None:
        """Seconds until the next contact may have settled; None when none is moving."""
        waiting = [contact.due for contact in self._contacts if contact.due is not None]
        return max(0.0, min(waiting) - self._clock()) if waiting else None
