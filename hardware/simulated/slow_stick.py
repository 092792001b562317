"""A stick whose speed is set, in simulated time."""

from __future__ import annotations

from pathlib import Path

from firmware.units import Samples
from hardware.simulated.stick import SimulatedStick, SimulatedTake

BYTES_A_SAMPLE = 3


class SlowTake:
    """One take on such a stick; keeps the TakeFile contract. Made by the stick."""

    def __init__(self, stick: SlowStick, take: SimulatedTake) -> None:
        self._stick = stick
        self._take = take

    def write(self, samples: Samples) -> None:
        """Add samples; the stick's time goes on by what that takes."""
        self._take.write(samples)
        self._stick.spend_time(samples.size * BYTES_A_SAMPLE)

    def sync(self) -> None:
        """Make what was written safe."""
        self._take.sync()

    def close(self) -> int:
        """Finish the file."""
        return self._take.close()


class SlowStick(SimulatedStick):
    """A simulated stick that takes so many bytes in a second, and keeps still once.

    Parameters
    ----------
    root, free_bytes
        As of SimulatedStick.
    speed, stall : float
        Bytes in a second of its own time, and seconds that it keeps still at the third piece.
    """

    def __init__(self, root: Path, free_bytes: int, speed: float, stall: float = 0.0) -> None:
        super().__init__(root, free_bytes)
        self._speed = speed
        self._stall = stall
        self._pieces = 0
        self._seconds = 0.0

    def clock(self) -> float:
        """Seconds of its own time."""
        return self._seconds

    def open_take(self, path: str, channels: int = 1) -> SlowTake:  # type: ignore[override]  # keeps the same contract
        """Begin a take."""
        return SlowTake(self, super().open_take(path, channels))

    def spend_time(self, count: int) -> None:
        """Let the time pass that so many bytes take."""
        self._pieces += 1
        self._seconds += count / self._speed + (self._stall if self._pieces == 3 else 0.0)
