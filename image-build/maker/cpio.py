"""An archive for the kernel's initial RAM disk, the same whenever its content is the same."""

from __future__ import annotations

from pathlib import Path

FOLDER, FILE, LINK = 0o040000, 0o100000, 0o120000


class Archive:
    """Collects files in the "newc" format (Linux, Documentation/driver-api/early-userspace/buffer-format)."""

    def __init__(self) -> None:
        self._entries = bytearray()
        self._number = 0
        self._folders: set[str] = set()

    def folder(self, path: str) -> None:
        """Add a folder and those above it."""
        parts = path.strip("/").split("/")
        for depth in range(1, len(parts) + 1):
            name = "/".join(parts[:depth])
            if name and name not in self._folders:
                self._folders.add(name)
                self._add(name, FOLDER | 0o755, b"")

    def file(self, path: str, data: bytes | Path, mode: int = 0o644) -> None:
        """Add a file, and the folders it is in."""
        self.folder(str(Path(path).parent))
        self._add(path.strip("/"), FILE | mode, data.read_bytes() if isinstance(data, Path) else data)

    def link(self, path: str, to: str) -> None:
        """Add a symbolic link."""
        self.folder(str(Path(path).parent))
        self._add(path.strip("/"), LINK | 0o777, to.encode())

    def data(self) -> bytes:
        """Give the whole archive."""
        whole = bytes(self._entries)
        self._add("TRAILER!!!", 0, b"")
        ended, self._entries = bytes(self._entries), bytearray(whole)
        return ended + bytes(-len(ended) % 512)

    def _add(self, name: str, mode: int, data: bytes) -> None:
        self._number += 1
        # number, mode, owner, group, links, time, size, device (2), special device (2), length of name, check
        fields = (self._number, mode, 0, 0, 1, 0, len(data), 0, 0, 0, 0, len(name) + 1, 0)
        head = b"070701" + b"".join(b"%08X" % field for field in fields) + name.encode() + b"\0"
        self._entries += head + bytes(-len(head) % 4) + data + bytes(-len(data) % 4)
