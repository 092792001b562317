"""Several panels as one: the keys on the box, a number pad and a presenter, all at the same time."""

from __future__ import annotations

import threading
from collections import Counter
from dataclasses import replace

from firmware.errors import DeviceError
from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobUp, PedalDown, PedalUp
from firmware.ports import Now, Panel, Post

DOWN = (KeyDown, KnobDown, PedalDown)
UP = (KeyUp, KnobUp, PedalUp)


def _control(event: Event) -> object:
    """What an event is about: a key, a pedal, or the knob."""
    if isinstance(event, KeyDown | KeyUp):
        return event.key
    return event.pedal if isinstance(event, PedalDown | PedalUp) else "knob"


class Panels:
    """Some panels that keep the Panel contract together.

    A key that is down on two of them goes down once, and comes up when the last of the two is released. Sample counts
    never run backwards, although each panel has a thread of its own.

    Parameters
    ----------
    panels
        The panels, in the order in which they are started.
    """

    def __init__(self, *panels: Panel) -> None:
        self._panels = panels
        self._lock = threading.Lock()
        self._down: Counter[object] = Counter()
        self._latest = 0

    def start(self, post: Post, now: Now) -> None:
        """Start every panel; one that can't start hinders no other, and is told of afterwards by DeviceError."""
        self._down.clear()
        self._latest = 0
        failed: list[DeviceError] = []

        def tell(event: Event) -> None:
            with self._lock:
                if self._counts(event):
                    self._latest = max(self._latest, event.at)
                    post(event if event.at == self._latest else replace(event, at=self._latest))

        for panel in self._panels:
            try:
                panel.start(tell, now)
            except DeviceError as error:
                failed.append(error)
        if failed:
            raise failed[0]

    def stop(self) -> None:
        """Stop every panel; a second call does nothing."""
        for panel in self._panels:
            panel.stop()

    def _counts(self, event: Event) -> bool:
        """Whether an event is the first press or the last release of its control."""
        control = _control(event)
        if isinstance(event, DOWN):
            self._down[control] += 1
            return self._down[control] == 1
        if isinstance(event, UP):
            self._down[control] = max(self._down[control] - 1, 0)
            return self._down[control] == 0
        return True
