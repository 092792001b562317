"""A power key without a pin: a test holds it."""

from __future__ import annotations

from collections.abc import Callable


class SimulatedPowerKey:
    """A key that keeps the PowerKey contract and is moved by calls."""

    def __init__(self) -> None:
        self._held: Callable[[], object] | None = None

    def start(self, held: Callable[[], object]) -> None:
        """Begin to watch it; `held` is called once each time that it was held."""
        self._held = held

    def stop(self) -> None:
        """Stop watching it; a second call does nothing."""
        self._held = None

    def tap(self) -> None:
        """Press it for a moment only."""

    def hold(self) -> None:
        """Hold it for as long as it wants."""
        if self._held is not None:
            self._held()
