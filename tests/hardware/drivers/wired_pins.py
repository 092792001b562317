"""Mock pins that read what a model of the wiring says, for the real driver of the self-test's lines."""

from __future__ import annotations

from gpiozero.pins.mock import MockFactory, MockPin

from hardware.board.parts import Board
from hardware.simulated.board import SimulatedLines


class WiredPin(MockPin):
    """A pin whose level follows the wiring and the pull that is set on it."""

    lines: SimulatedLines | None = None
    names: dict[int, str] = {}  # noqa: RUF012 - set by `wired_factory` on a class of its own

    def _get_state(self) -> bool:
        name = self.names.get(self.info.name and int(self.info.name.removeprefix("GPIO")))
        if self.lines is None or name is None or self.function != "input":
            return super()._get_state()
        return self.lines.high(name, pulled_up=self.pull == "up")

    def _set_pull(self, value: str) -> None:
        super()._set_pull(value)
        self._state = self._get_state()

    def follow(self) -> None:
        """Tell whoever watches this pin when its level is another one now."""
        if self._get_state():
            self.drive_high()
        else:
            self.drive_low()


def wired_factory(board: Board, lines: SimulatedLines) -> MockFactory:
    """Pins of a board on a model of its wiring."""
    names = {pin: name for name, pin in board.contacts}
    kind = type("WiredPinOfBoard", (WiredPin,), {"lines": lines, "names": names})
    return MockFactory(pin_class=kind)


def follow(factory: MockFactory, board: Board) -> None:
    """Let every pin see what became of the wiring."""
    for _, pin in board.contacts:
        factory.pin(pin).follow()
