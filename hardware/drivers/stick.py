"""The KEELNOTE folder of a USB stick, or of any folder on a computer."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path
from typing import Final

from firmware.errors import BadFileError
from firmware.units import Samples
from hardware.drivers.flac_file import NO_FOLLOW, FlacTake, Fsync
from hardware.drivers.flac_mend import SAFE, cut_off, mend, unfinished
from hardware.drivers.stick_errors import BUSY, ODD, OUT, READ_ONLY, RELEASED, TWO, UNKNOWN, explained, stick_error
from hardware.drivers.stick_mounts import BLOCK_DEVICES, MOUNTS, mount_on, usb_disks
from hardware.drivers.stick_paths import inside
from hardware.drivers.take_parts import part_places, part_samples, read_parts

MOUNT_LOOKS: Final = 3
"""Looks at a stick that is plugged in and not mounted before it counts as one that can't be."""

MOST_TEXT: Final = 1 << 26
"""Bytes of the longest text that is read; a longer one is none of ours, and would fill the memory."""

MOST_DEPTH: Final = 4
"""Folders within folders in which takes are looked for."""

OWN_FILES: Final = ("settings.toml", "settings.toml.old", "report.txt")
OWN_FOLDERS: Final = ("plans", "grooves", "rehearsals")
"""What the KEELNOTE folder holds."""

STICK: Final = "the stick"

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
    unmount : callable or None
        Has the folder above unmounted, before it returns; raises DeviceError when it can't be. A folder that is no
        mount point is only no longer used, until it was away once.
    mounts, block_devices : Path
        Where the kernel tells what is mounted, and what is plugged in.
    """

    def __init__(
        self,
        root: Path,
        *,
        mounted: bool = False,
        fsync: Fsync = os.fsync,
        unmount: Callable[[], None] | None = None,
        mounts: Path = MOUNTS,
        block_devices: Path = BLOCK_DEVICES,
    ) -> None:
        self._mounts = mounts
        self._block_devices = block_devices
        self._unmount = unmount
        self._released = False
        self._unmounted = 0
        self._fsync = fsync
        self.root = Path(root)
        self._mounted = mounted
        self._open: dict[Path, FlacTake] = {}

    @property
    def present(self) -> bool:
        """Whether it can be used now."""
        above = self.root.parent
        try:
            if not self._mounted:
                return above.is_dir() and not self._released
            mount = mount_on(above, self._mounts)
            return above.is_dir() and mount is not None and mount.there
        except OSError:
            return False

    def trouble(self) -> str:
        """Name of the line in `firmware.messages` that says what is wrong with it, empty if nothing is.

        Asked once a second or so: a stick that is just being plugged in is not called unknown at once.
        """
        disks = usb_disks(self._block_devices) if self._mounted else ()
        if self._released:
            # Until it was pulled, or is mounted anew.
            self._released = bool(disks) and not self.present if self._mounted else self.root.parent.is_dir()
            if self._released:
                return RELEASED
        if not self.present:
            self._unmounted = self._unmounted + 1 if disks else 0
            return UNKNOWN if self._unmounted > MOUNT_LOOKS else OUT
        self._unmounted = 0
        with contextlib.suppress(OSError):
            if self._read_only():
                return READ_ONLY
        if self.odd():
            return ODD
        return TWO if len(disks) > 1 else ""

    def _read_only(self) -> bool:
        mount = mount_on(self.root.parent, self._mounts) if self._mounted else None
        locked = mount is not None and mount.read_only
        return locked or not os.access(self.root if self.root.is_dir() else self.root.parent, os.W_OK)

    def release(self) -> None:
        """Let it go, so that it may be pulled; raises DeviceError when something still uses it."""
        self._check_present(STICK)
        if any(not take.closed for take in self._open.values()):
            raise stick_error(STICK, BUSY)
        if self._unmount is not None:
            self._unmount()
        self._released = True

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
            if place.is_symlink() or (place.exists() and not place.is_file()):
                raise stick_error(path, ODD, f"{place.name} is no file")
            self._mend(place, unfinished)
        return read_parts(places, path, first, count)

    def part_length(self, path: str) -> int:
        """Samples in one file of a take, which is mended if it was cut off; 0 if there is none in it."""
        self._check_present(path)
        place = inside(self.root, path)
        try:
            unended = place.is_file() and unfinished(place)
            return 0 if unended and not mend(place) else part_samples(place)
        except OSError as error:
            raise explained(path, error) from error

    def write_text(self, path: str, text: str) -> None:
        """Replace a small file so that a power cut leaves the old one or the new one, whole."""
        place = self._place_to_write(path)
        beside = place.with_name(place.name + TEMPORARY)
        try:
            if place.is_dir():
                raise IsADirectoryError(errno.EISDIR, "a folder has its name", path)
            with contextlib.suppress(FileNotFoundError):
                beside.unlink()
            self._write(beside, text, os.O_CREAT | os.O_EXCL)
            beside.replace(place)
            self._sync_renamed(place)
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
        data = self.read_bytes(path, MOST_TEXT + 1)
        if data is None:
            return None
        if len(data) > MOST_TEXT:
            raise BadFileError("file", path, f"at most {MOST_TEXT >> 20} MB of text")
        return data.decode("utf-8", "replace")

    def read_bytes(self, path: str, most: int) -> bytes | None:
        """The first `most` bytes of a file, None if there is none."""
        self._check_present(path)
        place = inside(self.root, path)
        try:
            if not place.is_file():
                return None
            with os.fdopen(os.open(place, os.O_RDONLY | SAFE), "rb") as file:
                return file.read(most)
        except OSError as error:
            raise explained(path, error) from error

    def remove(self, path: str) -> bool:
        """Delete a file for good; false if there was none. A folder is never deleted."""
        self._check_present(path)
        place = inside(self.root, path)
        try:
            if not place.exists():
                return False
            place.unlink()
        except OSError as error:
            raise explained(path, error) from error
        self._sync_folder(place.parent, path)
        return True

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
        takes = [path for path in self.files() if path.lower().endswith(".flac")]
        return tuple(path for path in takes if self._mend(self.root / path, cut_off))

    def files(self) -> tuple[str, ...]:
        """Paths of all files, in order; links are left alone, wherever they lead."""
        if self.root.is_symlink():
            return ()
        return tuple(sorted(one.relative_to(self.root).as_posix() for one in _files(self.root, MOST_DEPTH)))

    def _mend(self, place: Path, wanting: Callable[[Path], bool]) -> bool:
        # A take that is being written has no length yet, and needs none. A stick that can't be written stays as it is.
        being_written = place in self._open and not self._open[place].closed
        with contextlib.suppress(OSError):
            return not being_written and wanting(place) and mend(place) > 0
        return False

    def odd(self) -> tuple[str, ...]:
        """Names of the box's own files and folders that something of another kind has, or a link."""
        if not self.present:
            return ()
        if self.root.is_symlink() or (self.root.exists() and not self.root.is_dir()):
            return (self.root.name,)
        wanted = ((name, Path.is_file) for name in OWN_FILES), ((name, Path.is_dir) for name in OWN_FOLDERS)
        with contextlib.suppress(OSError):
            return tuple(name for name, fits in chain(*wanted) if _odd(self.root / name, fits))
        return ()

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

    def _sync_renamed(self, place: Path) -> None:
        # FAT keeps length and place of a file in its folder. A new name begins with none, and gets them only when the
        # file itself is synced again: without it a power cut leaves an empty file.
        descriptor = os.open(place, os.O_RDWR | NO_FOLLOW)
        try:
            self._fsync(descriptor)
        finally:
            os.close(descriptor)

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


def _files(folder: Path, depth: int) -> Iterator[Path]:
    """All files in a folder and those in it; links are left alone, wherever they lead."""
    try:
        entries = list(os.scandir(folder))
    except OSError:
        return
    for entry in entries:
        if entry.is_file(follow_symlinks=False):
            yield folder / entry.name
        elif depth and entry.is_dir(follow_symlinks=False):
            yield from _files(folder / entry.name, depth - 1)


def _odd(place: Path, fits: Callable[[Path], bool]) -> bool:
    return place.is_symlink() or (place.exists() and not fits(place))
