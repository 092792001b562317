"""The card's data partition, as a person with a card reader could fill, spoil and look into it; by e2fsprogs."""

from __future__ import annotations

import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np

from maker import layout

START: Final = layout.DATA.start * layout.SECTOR
SIZE: Final = layout.DATA.size * layout.SECTOR
FOLDERS: Final = ("spool", "kept")


def put(card: Path, files: Mapping[str, bytes]) -> None:
    """Write files into it: `kept/settings.toml`, say."""
    with _Outside(card) as (image, folder):
        for name in FOLDERS:
            _debugfs(image, f"mkdir {name}")
        for number, (name, data) in enumerate(files.items()):
            source = folder / f"put-{number}"
            source.write_bytes(data)
            _debugfs(image, f"write {source} {name}")
            source.unlink()


def fill(card: Path) -> None:
    """Fill it: a take that waits for its stick takes all blocks, but those that are reserved for root."""
    with _Outside(card) as (image, folder):
        free, reserved, size = (_number(image, name) for name in ("Free blocks", "Reserved block count", "Block size"))
        source = folder / "fill"
        # Some blocks more are taken by the file's own tree and by the two folders.
        with source.open("wb") as file:
            file.write(np.random.default_rng(8).bytes((free - reserved - 40) * size))
        for name in FOLDERS:
            _debugfs(image, f"mkdir {name}")
        _debugfs(image, f"write {source} spool/waiting.au")
        source.unlink()


def spoil(card: Path, *places: tuple[int, int]) -> None:
    """Overwrite stretches of it with noise, each its first byte and length."""
    noise = np.random.default_rng(88)
    with card.open("r+b") as file:
        for first, length in places:
            assert first + length <= SIZE
            file.seek(START + first)
            file.write(noise.bytes(length))


def read(card: Path, name: str) -> bytes:
    """Give a file of it."""
    with _Outside(card, write=False) as (image, _):
        done = subprocess.run(["/usr/sbin/debugfs", "-R", f"cat {name}", image], capture_output=True, check=True)
        return done.stdout


class _Outside:
    """The partition as a file of its own for a while."""

    def __init__(self, card: Path, *, write: bool = True) -> None:
        self._card, self._write = card, write
        self._image = card.with_name("data-part.img")

    def __enter__(self) -> tuple[Path, Path]:
        with self._card.open("rb") as card:
            card.seek(START)
            self._image.write_bytes(card.read(SIZE))
        return self._image, self._card.parent

    def __exit__(self, *_: object) -> None:
        if self._write:
            with self._card.open("r+b") as card:
                card.seek(START)
                card.write(self._image.read_bytes())
        self._image.unlink()


def _debugfs(image: Path, command: str) -> None:
    done = subprocess.run(["/usr/sbin/debugfs", "-w", "-R", command, image], capture_output=True, text=True, check=True)
    # debugfs(8) ends with 0 whatever happens, and says what went wrong after its name and version.
    said = "\n".join(done.stderr.splitlines()[1:])
    assert not said.strip() or "Allocated inode" in said, f"{command}: {said}"


def _number(image: Path, name: str) -> int:
    said = subprocess.run(["/usr/sbin/dumpe2fs", "-h", image], capture_output=True, text=True, check=True).stdout
    return next(int(line.split(":")[1]) for line in said.splitlines() if line.startswith(f"{name}:"))
