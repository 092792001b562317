"""Moves the simulated panel as the computer's keys say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from firmware.events import PanelKey, Pedal
from firmware.screens.gestures import Control, Kind
from hardware.desk_app.keymap import AMOUNT, AMOUNT_SHOWN, BY_KEY, Stroke
from hardware.simulated.panel import SimulatedPanel

PANEL_KEYS: Final = {Control(key.value): key for key in PanelKey}
PEDALS: Final = {Control.LEFT_PEDAL: Pedal.LEFT, Control.RIGHT_PEDAL: Pedal.RIGHT}


class Fingers:
    """The hands at the keyboard.

    Parameters
    ----------
    panel
        What they touch.
    """

    def __init__(self, panel: SimulatedPanel) -> None:
        self._panel = panel
        self._choosing = False
        self.amount: PanelKey | None = None
        """The key that counts as held while the knob turns."""
        self._acts: dict[Kind, Callable[[Stroke], None]] = {
            Kind.TAP: self._tap,
            Kind.HOLD: lambda stroke: self._panel.hold(PANEL_KEYS[stroke.control]),
            Kind.DOWN: self._toggle,
            Kind.TURN: self._turn,
            Kind.PUSH: lambda _: self._push(0),
            Kind.PUSH_TURN: lambda stroke: self._push(stroke.steps),
            Kind.PRESS: lambda stroke: self._panel.pedal(PEDALS[stroke.control]),
        }

    @property
    def note(self) -> str:
        """What the hands are doing, for the status line; empty when nothing is down."""
        if self._choosing:
            return f"{AMOUNT_SHOWN} and now the letter of a key"
        if self.amount is not None:
            return f"{self.amount} is held: ← → set its amount, {AMOUNT_SHOWN} lets it go"
        if PanelKey.COMPARE in self._panel.down:
            return "Compare is down: c lets it up"
        return ""

    def stroke(self, key: str) -> bool:
        """Do what a key of the computer means; whether it means anything."""
        if key in {AMOUNT, "escape"}:
            self._choosing = key == AMOUNT and self.amount is None and not self._choosing
            self.amount = None
            return True
        stroke = BY_KEY.get(key)
        if stroke is None:
            return False
        if self._choosing:
            self._choosing = False
            self.amount = PANEL_KEYS.get(stroke.control)
        else:
            self._acts[stroke.kind](stroke)
        return True

    def _tap(self, stroke: Stroke) -> None:
        key = PANEL_KEYS[stroke.control]
        self._panel.press(key)
        self._panel.release(key)

    def _toggle(self, stroke: Stroke) -> None:
        key = PANEL_KEYS[stroke.control]
        if key in self._panel.down:
            self._panel.release(key)
        else:
            self._panel.press(key)

    def _turn(self, stroke: Stroke) -> None:
        # Key, detent and release at one moment: repeated strokes can't overlap, and no detent reaches the bare knob.
        if self.amount is None:
            self._panel.turn(stroke.steps)
            return
        self._panel.release(self.amount)
        self._panel.press(self.amount)
        self._panel.turn(stroke.steps)
        self._panel.release(self.amount)

    def _push(self, steps: int) -> None:
        self._panel.knob_down()
        self._panel.turn(steps)
        self._panel.knob_up()
