"""The SPI bus under an OLED controller: stands in for `spidev.SpiDev` under the real driver."""

from __future__ import annotations

import errno
from collections.abc import Callable, Sequence

from hardware.simulated.oled_chip import SimulatedOledChip


class SimulatedSpi:
    """The first chip select of the header's SPI bus, with a chip on it that nobody can ask whether it is there.

    Parameters
    ----------
    chip
        What hangs on it; when it is not `plugged`, bytes go nowhere.
    dc
        Whether the data/command line is high.
    """

    def __init__(self, chip: SimulatedOledChip, dc: Callable[[], bool]) -> None:
        self._chip = chip
        self._dc = dc
        self.max_speed_hz = 0
        self.there = True
        """Clear it, and the bus is switched off in the settings of the machine."""
        self.closed = True

    def __call__(self) -> SimulatedSpi:
        """Make the bus; put in the place of `spidev.SpiDev`."""
        return self

    def open(self, port: int, device: int) -> None:
        """Open it."""
        if not self.there or (port, device) != (0, 0):
            raise FileNotFoundError(errno.ENOENT, "No such file or directory")
        self.closed = False

    def writebytes(self, values: Sequence[int]) -> None:
        """Send bytes."""
        if self.closed:
            raise OSError(errno.EBADF, "Bad file descriptor")
        if self._chip.plugged:
            self._chip.sent += len(values)
            self._chip.take(0x40 if self._dc() else 0x00, bytes(values))

    def close(self) -> None:
        """Close it."""
        self.closed = True
