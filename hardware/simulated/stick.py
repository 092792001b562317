"""A USB stick that can be pulled out, filled up, locked and held up, over a folder of the computer."""

from __future__ import annotations

import contextlib
import os
import threading
from pathlib import Path
from typing import Final

from firmware.errors import KeelnoteError
from firmware.units import Samples
from hardware.drivers.flac_file import FlacTake
from hardware.drivers.stick import FolderStick
from hardware.drivers.stick_errors import BUSY, FULL, OUT, READ_ONLY, RELEASED, TWO, UNKNOWN, stick_error

ROOM: Final = 8_000_000_000
"""Bytes of a small stick."""

BYTES_A_SAMPLE: Final = 3
"""24 bits; what compression wins is not counted, so that the room left is the same on every computer."""


def _nothing(_descriptor: int) -> None:
    """Nothing has to be made safe: the power of a simulated stick fails only when it is told to."""


class SimulatedStick:
    """Keeps the Stick contract over a real folder; made whole by its constructor.

    Everything it writes is real: the same FLAC files and the same texts as a real stick's. Only trouble and room are
    simulated.

    Parameters
    ----------
    root : Path
        The KEELNOTE folder; the folders above it are made.
    free_bytes : int
        Room there is.
    """

    def __init__(self, root: Path, free_bytes: int = ROOM) -> None:
        self.root = Path(root)
        self.root.parent.mkdir(parents=True, exist_ok=True)
        self._folder = FolderStick(self.root, fsync=_nothing)
        self._free = free_bytes
        self._in = True
        self._locked = False
        self._away = OUT
        self._beside = ""
        self._flowing = threading.Event()
        self._flowing.set()
        self._takes: list[SimulatedTake] = []
        self.fate = threading.RLock()
        """Held while one writes or the stick is pulled, so that what is called safe before is, and after is not."""

    # --- what a person or fate does to it -----------------------------------------------------------------------

    def pull_out(self, *, told: bool = True) -> None:
        """Pull it out: takes that are being written keep what was synced and lose the rest.

        One that is not `told` goes the way many do: write and close go on to succeed, and only a sync says the truth.
        """
        with self.fate:
            self._in = False
            self._away = OUT
            for take in self._takes:
                take.cut_off(told=told)
            self._takes.clear()

    def put_back(self) -> None:
        """Put it in again, with what is on it."""
        self._in = True
        self._away = OUT

    def fill_up(self, free_bytes: int = 0) -> None:
        """Leave only so much room."""
        self._free = free_bytes

    def make_read_only(self, *, locked: bool = True) -> None:
        """Slide the lock on its side."""
        self._locked = locked

    def put_in_unknown(self) -> None:
        """Put one in its place whose file system the box can't read."""
        self.pull_out()
        self._away = UNKNOWN

    def put_in_second(self, *, second: bool = True) -> None:
        """Put another stick in beside it, or take that one out."""
        self._beside = TWO if second else ""

    def stall(self, seconds: float | None = None) -> None:
        """Let it answer nothing until `go_on`, or for some seconds, as cheap sticks do; whoever writes waits."""
        self._flowing.clear()
        if seconds is not None:
            timer = threading.Timer(seconds, self.go_on)
            timer.daemon = True
            timer.start()

    def go_on(self) -> None:
        """End a stall."""
        self._flowing.set()

    # --- the contract -------------------------------------------------------------------------------------------

    @property
    def present(self) -> bool:
        """Whether it can be used now."""
        return self._in

    def free_bytes(self) -> int:
        """Room left; 0 when absent."""
        return self._free if self._in else 0

    def open_take(self, path: str, channels: int = 1) -> SimulatedTake:
        """Begin a 24-bit FLAC of one or two channels; never replaces a file that is there."""
        self.spend(path, 0)
        with self.fate:
            self._check_present(path)
            take = SimulatedTake(self, self._folder.open_take(path, channels), path, self.root / path)
            self._takes = [one for one in self._takes if not one.closed] + [take]
        return take

    def read_take(self, path: str, first: int, count: int) -> Samples:
        """At most `count` samples of a take from sample `first`, over all its parts; fewer at its end."""
        self._check_present(path)
        return self._folder.read_take(path, first, count)

    def part_length(self, path: str) -> int:
        """Samples in one file of a take, which is mended if it was cut off; 0 if there is none in it."""
        self._check_present(path)
        return self._folder.part_length(path)

    def write_text(self, path: str, text: str) -> None:
        """Replace a small file; the old one or the new one, whole."""
        self.spend(path, len(text.encode("utf-8", "replace")))
        self._folder.write_text(path, text)

    def append_line(self, path: str, line: str) -> None:
        """Add a line to a file, made if need be."""
        self.spend(path, len(line.encode("utf-8", "replace")) + 1)
        self._folder.append_line(path, line)

    def read_text(self, path: str) -> str | None:
        """Text of a file, None if there is none."""
        self._check_present(path)
        return self._folder.read_text(path)

    def read_bytes(self, path: str, most: int) -> bytes | None:
        """The first `most` bytes of a file, None if there is none."""
        self._check_present(path)
        return self._folder.read_bytes(path, most)

    def remove(self, path: str) -> bool:
        """Delete a file for good; false if there was none."""
        self.spend(path, 0)
        return self._folder.remove(path)

    def release(self) -> None:
        """Let it go, so that it may be pulled; raises DeviceError when something still uses it."""
        self._check_present("the stick")
        if any(not take.closed for take in self._takes):
            raise stick_error("the stick", BUSY)
        self._in = False
        self._away = RELEASED

    def odd(self) -> tuple[str, ...]:
        """Names of the box's own files and folders that something of another kind has."""
        return self._folder.odd() if self._in else ()

    def trouble(self) -> str:
        """Name of the line that says what is wrong with it, empty if nothing is."""
        if not self._in:
            return self._away
        return READ_ONLY if self._locked else self._folder.trouble() or self._beside

    def names(self, folder: str) -> tuple[str, ...]:
        """Sorted names in a folder; none if it is absent."""
        return self._folder.names(folder) if self._in else ()

    def mend(self) -> tuple[str, ...]:
        """Give takes that were cut off their length back, and name them."""
        return self._folder.mend() if self._in and not self._locked else ()

    def spend(self, path: str, count: int) -> None:
        """Take room for `count` bytes; raises DeviceError as a stick in its state would."""
        self._flowing.wait()
        self._check_present(path)
        if self._locked:
            raise stick_error(path, READ_ONLY)
        if self._free <= 0 or count > self._free:
            raise stick_error(path, FULL)
        self._free -= count

    def _check_present(self, path: str) -> None:
        if not self._in:
            raise stick_error(path, OUT)


class SimulatedTake:
    """One take on a simulated stick; keeps the TakeFile contract. Made by the stick."""

    def __init__(self, stick: SimulatedStick, file: FlacTake, name: str, place: Path) -> None:
        self._stick = stick
        self._file = file
        self._name = name
        self._place = place
        self._safe_bytes = 0
        self._gone = False
        self._told = True

    def write(self, samples: Samples) -> None:
        """Add samples; raises DeviceError when the stick refuses."""
        if self._swallows():
            return
        self._stick.spend(self._name, BYTES_A_SAMPLE * samples.size)
        with self._stick.fate:
            if not self._swallows():
                self._file.write(samples)

    def sync(self) -> None:
        """Make what was written safe against being pulled out."""
        if self._gone:
            raise stick_error(self._name, OUT)
        self._stick.spend(self._name, 0)
        with self._stick.fate:
            if self._gone:
                raise stick_error(self._name, OUT)
            self._file.sync()
            self._safe_bytes = os.fstat(self._file.descriptor).st_size

    def close(self) -> int:
        """Finish the file and say how many samples it holds; a second call only says so."""
        with self._stick.fate:
            self._swallows()
            return self._file.close()

    @property
    def closed(self) -> bool:
        """Whether it was finished."""
        return self._file.closed

    def cut_off(self, *, told: bool = True) -> None:
        """Leave of the file only what was synced, as when the stick is pulled out."""
        if self._file.closed:
            return
        self._told = told
        safe = self._place.read_bytes()[: self._safe_bytes]
        with contextlib.suppress(KeelnoteError):
            self._file.close()
        self._place.write_bytes(safe)
        self._gone = True

    def _swallows(self) -> bool:
        """Whether a stick that is out pretends to take this; it raises DeviceError if it is honest."""
        if self._gone and self._told:
            raise stick_error(self._name, OUT)
        return self._gone
