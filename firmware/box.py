"""The Box: start reading here. It holds the parts, hands events to those that answer, and collects what follows.

There is no musical rule in this file: what a key does stands in `firmware.screens.gestures`, what it means in
`firmware.parts`.
"""

from __future__ import annotations

from collections import deque
from typing import Any, Final

from firmware.commands import Command, Play, Show
from firmware.errors import KeelnoteError
from firmware.events import Adjusted, Event, Tick
from firmware.parts import PARTS
from firmware.parts.part import Address, Part, Start, address_of
from firmware.screens.render import render
from firmware.screens.view import View
from firmware.sound.snapshot import SILENCE, Sound

LONGEST_CHAIN: Final = 200
"""Events that may follow from one event; more would mean two parts that answer each other for ever."""


def routes_of(parts: tuple[Part[Any], ...]) -> dict[Address, tuple[Part[Any], ...]]:
    """The routing table: for every address the parts that answer to it, in the order of the registry."""
    table: dict[Address, tuple[Part[Any], ...]] = {}
    for part in parts:
        for address in part.handlers:
            table[address] = (*table.get(address, ()), part)
    return table


class Box:
    """All that Keelnote knows and decides; neither hears nor sounds by itself.

    Parameters
    ----------
    start : Start
        What is known when it is switched on.
    parts : tuple of Part
        The parts; all of them unless a test wants fewer.
    """

    def __init__(self, start: Start, parts: tuple[Part[Any], ...] = PARTS) -> None:
        self._parts = parts
        self._routes = routes_of(parts)
        self._states: dict[str, Any] = {part.name: part.start(start) for part in parts}
        self._sound = SILENCE
        self._sounded: dict[str, Any] = {}
        self._view: View | None = None

    @property
    def sound(self) -> Sound:
        """What the engine should sound like now."""
        return self._sound

    def state_of(self, name: str) -> Any:  # noqa: ANN401 - every part has a state of its own type
        """The state of one part, by the part's name."""
        return self._states[name]

    def view(self, at: int) -> View:
        """What the screen may show at a sample count."""
        shown: dict[str, Any] = {}
        for part in self._parts:
            shown |= part.show(self._states[part.name], at)
        return View(**shown)

    def handle(self, event: Event) -> tuple[Command, ...]:
        """Take in one event; the commands that follow, in order. The picture is drawn at ticks only.

        Raises
        ------
        KeelnoteError
            If the parts answer each other without end, which is a fault of the program.
        """
        commands = self._let_follow(event)
        if self._sounded != self._states:
            self._sounded = dict(self._states)
            sound = self._heard_sound()
            if sound != self._sound:
                self._sound = sound
                commands.append(Play(sound))
        if isinstance(event, Tick):
            commands.extend(self._drawn(event.at))
        return tuple(commands)

    def _let_follow(self, first: Event) -> list[Command]:
        queue: deque[Event] = deque([first])
        commands: list[Command] = []
        for _ in range(LONGEST_CHAIN):
            if not queue:
                return commands
            for outcome in self._deliver(queue.popleft()):
                if isinstance(outcome, Event):
                    queue.append(outcome)
                else:
                    commands.append(outcome)
        raise KeelnoteError("chain of events", type(first).__name__, f"at most {LONGEST_CHAIN} events may follow one")

    def _deliver(self, event: Event) -> list[Event | Command]:
        follow: list[Event | Command] = []
        address = address_of(event)
        for part in self._routes.get(address, ()):
            if isinstance(event, Adjusted) and event.field not in part.fields:
                continue
            state, outcome = part.handlers[address](self._states[part.name], event)
            self._states[part.name] = state
            follow.extend(outcome)
        return follow

    def _heard_sound(self) -> Sound:
        sound: dict[str, Any] = {}
        for part in self._parts:
            sound |= part.sound(self._states[part.name])
        return Sound(**sound)

    def _drawn(self, at: int) -> list[Command]:
        view = self.view(at)
        if view == self._view:
            return []
        self._view = view
        return [Show(render(view))]
