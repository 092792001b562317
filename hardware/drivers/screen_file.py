"""A panel that is a file: what it shows can be looked at from outside, on a box without an OLED."""

from __future__ import annotations

from pathlib import Path

from firmware.errors import DeviceError
from firmware.screens.frame import HEIGHT, WIDTH, Frame


class ScreenFile:
    """Keeps the latest picture in a file, as a portable bitmap (netpbm, "PBM", raw); in it 1 is black, here 1 is lit.

    Parameters
    ----------
    path
        On a file system in memory: it is written at every change. Whoever reads it sees a whole picture, always.

    Raises
    ------
    DeviceError
        Here and in `write`, if the file can't be written.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self.write(Frame())

    def write(self, frame: Frame) -> None:
        """Put a picture into the file."""
        new = self._path.with_name(f"{self._path.name}.new")
        try:
            new.write_bytes(b"P4\n%d %d\n" % (WIDTH, HEIGHT) + frame.bits)
            new.replace(self._path)
        except OSError as error:
            raise DeviceError("screen", str(self._path), f"it can't be written ({error.strerror})") from error

    def contrast(self, level: int) -> None:
        """A file has no brightness."""

    def renew(self) -> None:
        """A file needs no setting up."""

    def close(self) -> None:
        """Nothing is held open."""
