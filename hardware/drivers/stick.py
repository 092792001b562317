"""The KEELNOTE folder of a USB stick, or of any folder on a computer."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
from pathlib import Path
from typing import Final

from firmware.units import Samples
from hardware.drivers.flac_file import NO_FOLLOW, FlacTake, Fsync
from hardware.drivers.flac_mend import mend, unfinished
from hardware.drivers.stick_errors import OUT, explained, stick_error
from hardware.drivers.stick_paths import inside
from hardware.drivers.take_parts import part_places, part_samples, read_parts

ESCAPED: Final = re.compile(r"\\([0-7]{3})")
"""How the table of mounts writes a space in a name."""

TEMPORARY: Final = ".new"
"""Added to the name of a file while it is written; one that a power cut left behind is replaced the next time."""


class FolderStick:
    """A folder that keeps the Stick contract.

    Parameters
    ----------
    root : Path
        The KEELNOTE folder; made when first written to. The stick is present while the folder above it is there.
    mounted : bool
        The folder above must be a mount point, as a stick's is: else a pulled stick's recordings would quietly go to
        the card that the box starts from.
    fsync : callable
        Makes a file descriptor's file safe.
    mounts : Path
        The kernel's table of mounts, as fstab(5) describes its lines.
    """

    def __init__(
        self, root: Path, *, mounted: bool = False, fsync: Fsync = os.fsync, mounts: Path = Path("/proc/self/mounts")
    ) -> None:
        self._mounts = mounts
        self._fsync = fsync
        self.root = Path(root)
        self._mounted = mounted
        self._open: dict[Path, FlacTake] = {}

    @property
    def present(self) -> bool:
        """Whether it can be used now."""
        try:
            above = self.root.parent
            return above.is_dir() and (not self._mounted or _device_there(above, self._mounts))
        except OSError:
            return False

    def free_bytes(self) -> int:
        """Room left; 0 when absent."""
        if not self.present:
            return 0
        try:
            return shutil.disk_usage(self.root.parent).free
        except OSError:
            return 0

    def open_take(self, path: str, channels: int = 1) -> FlacTake:
        """Begin a 24-bit FLAC of one or two channels; never replaces a file that is there."""
        place = self._place_to_write(path)
        take = FlacTake(place, path, fsync=self._fsync, channels=channels)
        self._open = {one: file for one, file in self._open.items() if not file.closed} | {place: take}
        self._sync_folder(place.parent, path)
        return take

    def read_take(self, path: str, first: int, count: int) -> Samples:
        """At most `count` samples of a take from sample `first`, over all its parts; fewer at its end."""
        self._check_present(path)
        places = part_places(inside(self.root, path))
        for place in places:
            self._mend(place)
        return read_parts(places, path, first, count)

    def part_length(self, path: str) -> int:
        """Samples in one file of a take, which is mended if it was cut off; 0 if there is none in it."""
        self._check_present(path)
        place = inside(self.root, path)
        try:
            cut_off = place.is_file() and unfinished(place)
            return 0 if cut_off and not mend(place) else part_samples(place)
        except OSError as error:
            raise explained(path, error) from error

    def write_text(self, path: str, text: str) -> None:
        """Replace a small file so that a power cut leaves the old one or the new one, whole."""
        place = self._place_to_write(path)
        beside = place.with_name(place.name + TEMPORARY)
        try:
            with contextlib.suppress(FileNotFoundError):
                beside.unlink()
            self._write(beside, text, os.O_CREAT | os.O_EXCL)
            beside.replace(place)
        except OSError as error:
            with contextlib.suppress(OSError):
                beside.unlink()
            raise explained(path, error) from error
        self._sync_folder(place.parent, path)

    def append_line(self, path: str, line: str) -> None:
        """Add a line to a file, made if need be, and make it safe; line breaks inside it become spaces."""
        place = self._place_to_write(path)
        try:
            new = not place.exists()
            self._write(place, " ".join(line.splitlines()) + "\n", os.O_CREAT | os.O_APPEND)
        except OSError as error:
            raise explained(path, error) from error
        if new:
            self._sync_folder(place.parent, path)

    def read_text(self, path: str) -> str | None:
        """Text of a file, None if there is none; bytes that are not UTF-8 come as the replacement character."""
        self._check_present(path)
        place = inside(self.root, path)
        try:
            return place.read_bytes().decode("utf-8", "replace") if place.is_file() else None
        except OSError as error:
            raise explained(path, error) from error

    def read_bytes(self, path: str, most: int) -> bytes | None:
        """The first `most` bytes of a file, None if there is none."""
        self._check_present(path)
        place = inside(self.root, path)
        try:
            if not place.is_file():
                return None
            with place.open("rb") as file:
                return file.read(most)
        except OSError as error:
            raise explained(path, error) from error

    def names(self, folder: str) -> tuple[str, ...]:
        """Sorted names in a folder; none if it is absent. "" is the KEELNOTE folder itself."""
        if not self.present:
            return ()
        place = inside(self.root, folder) if folder else self.root
        try:
            return tuple(sorted(one.name for one in place.iterdir())) if place.is_dir() else ()
        except OSError as error:
            raise explained(folder, error) from error

    def mend(self) -> tuple[str, ...]:
        """Give every take that a power cut left without an end its length back, and name those."""
        if not self.present:
            return ()
        takes = sorted(self.root.rglob("*.flac"))
        return tuple(str(place.relative_to(self.root).as_posix()) for place in takes if self._mend(place))

    def _mend(self, place: Path) -> bool:
        # A take that is being written has no length yet, and needs none. A stick that can't be written stays as it is.
        being_written = place in self._open and not self._open[place].closed
        with contextlib.suppress(OSError):
            return not being_written and unfinished(place) and mend(place) > 0
        return False

    def _check_present(self, path: str) -> None:
        if not self.present:
            raise stick_error(path, OUT)

    def _place_to_write(self, path: str) -> Path:
        self._check_present(path)
        place = inside(self.root, path)
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise explained(path, error) from error
        return place

    def _write(self, place: Path, text: str, flags: int) -> None:
        descriptor = os.open(place, os.O_WRONLY | flags | NO_FOLLOW, 0o644)
        with os.fdopen(descriptor, "wb") as file:
            file.write(text.encode("utf-8", "replace"))
            file.flush()
            self._fsync(file.fileno())

    def _sync_folder(self, folder: Path, path: str) -> None:
        # The name of a new file is safe only when its folder is.
        try:
            descriptor = os.open(folder, os.O_RDONLY)
            try:
                self._fsync(descriptor)
            finally:
                os.close(descriptor)
        except OSError as error:
            raise explained(path, error) from error


def _device_there(folder: Path, mounts: Path) -> bool:
    # A pulled stick stays mounted, and statvfs goes on giving old numbers; only its device node goes.
    there = False
    for line in mounts.read_text(encoding="utf-8", errors="replace").splitlines():
        device, place, *_ = (_unescaped(field) for field in (*line.split(), "", ""))
        if Path(place) == folder:  # of several mounts on a folder the last is the one that is seen
            there = not device.startswith("/dev/") or Path(device).exists()
    return there


def _unescaped(field: str) -> str:
    return ESCAPED.sub(lambda match: chr(int(match[1], 8)), field)
