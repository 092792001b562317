"""What the kernel knows of sticks: where they are mounted and whether they can be written, and which are plugged in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

MOUNTS: Final = Path("/proc/self/mounts")
"""The kernel's table of mounts, as fstab(5) describes its lines."""

BLOCK_DEVICES: Final = Path("/sys/class/block")
"""All disks and their partitions, as links into the tree of devices (kernel documentation, sysfs-class-block)."""

ESCAPED: Final = re.compile(r"\\([0-7]{3})")
"""How the table of mounts writes a space in a name."""


@dataclass(frozen=True, slots=True)
class Mount:
    """What is mounted on a folder."""

    device: str
    read_only: bool

    @property
    def there(self) -> bool:
        """Whether its device is still plugged in.

        A pulled stick stays mounted, and statvfs goes on giving old numbers; only its device node goes.
        """
        return not self.device.startswith("/dev/") or Path(self.device).exists()


def mount_on(folder: Path, mounts: Path = MOUNTS) -> Mount | None:
    """What is mounted on a folder; of several mounts the last, which is the one that is seen.

    A folder that is only a part of what is mounted above it does not count: a service whose own view of the file system
    lets it write there sees such a mount even while no stick is in.
    """
    found: Mount | None = None
    above = ""
    for line in mounts.read_text(encoding="utf-8", errors="replace").splitlines():
        device, place, _, options = (_unescaped(field) for field in [*line.split(), "", "", "", ""][:4])
        if Path(place) == folder:
            found = Mount(device, "ro" in options.split(","))
        elif Path(place) in folder.parents:
            above = device
    return None if found is not None and found.device == above else found


def usb_disks(block_devices: Path = BLOCK_DEVICES) -> tuple[str, ...]:
    """Names of the USB disks that are plugged in and hold something; none where that can't be told."""
    try:
        places = sorted(block_devices.iterdir())
        return tuple(one.name for one in places if _is_usb_disk(one.resolve()))
    except OSError:
        return ()


def _is_usb_disk(place: Path) -> bool:
    on_usb = any(re.fullmatch(r"usb\d+", part) for part in place.parts)
    size = place / "size"
    return on_usb and not (place / "partition").exists() and size.is_file() and int(size.read_text()) > 0


def _unescaped(field: str) -> str:
    return ESCAPED.sub(lambda match: chr(int(match[1], 8)), field)
