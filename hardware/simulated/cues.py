"""The hands and feet of a script: each cue is done on the panel or the keyboard when its time has come."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final, Protocol

from firmware.music.notes import parse_note
from firmware.units import samples_of
from hardware.simulated.keyboard import SimulatedKeyboard
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.script import KEYBOARD_ACTIONS, Cue

MOVEMENTS: Final[Mapping[str, Callable[[SimulatedPanel, Cue], None]]] = MappingProxyType(
    {
        "tap": lambda panel, cue: panel.tap(cue.name),
        "hold": lambda panel, cue: panel.hold(cue.name, cue.seconds),
        "press": lambda panel, cue: panel.press(cue.name),
        "release": lambda panel, cue: panel.release(cue.name),
        "turn": lambda panel, cue: panel.turn_slowly(cue.steps),
        "push": lambda panel, _: panel.push(),
        "push_turn": lambda panel, cue: panel.push_turn(cue.steps),
        "pedal": lambda panel, cue: panel.pedal(cue.name),
        "hold_turn": lambda panel, cue: panel.hold_turn(cue.name, cue.steps),
    }
)
"""What each action of a script does to the panel."""


class Pump(Protocol):
    """Whoever does something on a panel when its time has come."""

    def pump(self, now: int) -> None:
        """Do what is due at a sample count."""


class Hands:
    """Plays cues, in the order of their times, on a panel; then whatever others do on it."""

    def __init__(self, panel: SimulatedPanel, cues: tuple[Cue, ...], others: tuple[Pump, ...] = ()) -> None:
        self._panel = panel
        self._left = [cue for cue in reversed(cues) if cue.action in MOVEMENTS]
        self._others = others

    @property
    def left(self) -> int:
        """Cues that are still to come."""
        return len(self._left)

    def pump(self, now: int) -> None:
        """Do every cue that is due at a sample count, and what is left of the gestures before it."""
        while self._left and samples_of(self._left[-1].at) <= now:
            cue = self._left.pop()
            MOVEMENTS[cue.action](self._panel, cue)
        for other in self._others:
            other.pump(now)
        self._panel.pump(now)


class Keys:
    """Plays the cues of the keyboard, in the order of their times."""

    def __init__(self, keyboard: SimulatedKeyboard, cues: tuple[Cue, ...]) -> None:
        self._keyboard = keyboard
        self._left = [cue for cue in reversed(cues) if cue.action in KEYBOARD_ACTIONS]
        self._down: list[tuple[int, int]] = []
        """Keys that are down, each with the sample count at which it comes up."""

    def pump(self, now: int) -> None:
        """Do every cue that is due at a sample count, after the keys that come up."""
        for ends, note in [key for key in self._down if key[0] <= now]:
            self._keyboard.release(note)
            self._down.remove((ends, note))
        while self._left and samples_of(self._left[-1].at) <= now:
            self._do(self._left.pop(), now)

    def _do(self, cue: Cue, now: int) -> None:
        if cue.action == "sustain":
            self._keyboard.sustain(down=cue.name == "down")
        elif cue.action == "keyboard" and cue.name == "out":
            self._keyboard.pull_out()
            self._down.clear()
        elif not self._keyboard.plugged:
            self._keyboard.plug_in()
        if cue.action == "note":
            note = parse_note(cue.name).midi
            self._keyboard.press(note)
            self._down.append((now + samples_of(cue.seconds), note))
