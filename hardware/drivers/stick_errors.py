"""What the operating system says about a stick, in words that help."""

from __future__ import annotations

import errno
from typing import Final

from firmware.errors import DeviceError

OUT: Final = "stick-out"
FULL: Final = "stick-full"
READ_ONLY: Final = "stick-read-only"
ODD: Final = "stick-odd"
UNKNOWN: Final = "stick-unknown"
TWO: Final = "stick-two"
RELEASED: Final = "stick-released"
BUSY: Final = "stick-busy"
OTHER: Final = "stick-error"

MEANINGS: Final[dict[int, str]] = {
    errno.EIO: OUT,  # what a pulled USB stick answers to write and fsync, while close succeeds
    errno.ENODEV: OUT,
    errno.ENXIO: OUT,
    errno.ENOENT: OUT,
    errno.ESTALE: OUT,
    errno.ENOTCONN: OUT,
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EFBIG: FULL,  # FAT32 ends a file at 4 GiB
    errno.EROFS: READ_ONLY,
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
    errno.EISDIR: ODD,
    errno.ENOTDIR: ODD,
    errno.EEXIST: ODD,
    errno.ENOTEMPTY: ODD,
    errno.ELOOP: ODD,  # a link, which is never followed
    errno.ENAMETOOLONG: ODD,
}

WORDS: Final[dict[str, tuple[str, str]]] = {
    OUT: ("there is no stick to write to", "Put the stick back in."),
    FULL: ("the stick is full", "Put in one with more room, or delete old rehearsals."),
    READ_ONLY: ("the stick can't be written to", "Slide its lock to open, or put in another one."),
    ODD: ("a file, folder or link of another kind has this name", "Rename it on a computer."),
    RELEASED: ("it was let go", "Pull it out and put it back in."),
    BUSY: ("something still uses it", "Try again, or switch off before you pull it."),
    OTHER: ("the stick refuses", "Put in another one."),
}


def stick_error(what: str, message: str, detail: str = "") -> DeviceError:
    """Error for one of the ways in which a stick refuses; `what` is the file or folder."""
    allowed, remedy = WORDS[message]
    return DeviceError("stick", what, f"{allowed} ({detail})" if detail else allowed, remedy, message)


def explained(what: str, error: OSError) -> DeviceError:
    """The operating system's error as one of ours."""
    message = MEANINGS.get(error.errno or 0, OTHER)
    return stick_error(what, message, error.strerror or str(error))
