"""Something on the I2C bus, which QEMU's board has not: a kernel module for tests takes what an OLED would be sent.

It is in an archive behind the image's own initial RAM disk, with a first program that loads it and goes on to the
image's own. Nothing of it is in the image.
"""

from __future__ import annotations

import base64
import subprocess
import tempfile
from pathlib import Path
from typing import Final

from emulated.board import Board
from maker.base import base
from maker.cpio import Archive
from maker.debs import debs
from maker.inputs import HERE
from maker.module import own_module
from maker.rootfs import rootfs

NAME: Final = "oled_probe"
ARGUMENT: Final = "rdinit=/probe"
"""For the kernel: what it runs first (Documentation/admin-guide/kernel-parameters)."""

FIRST: Final = f"#!/bin/sh\n/bin/busybox insmod /{NAME}.ko\nexec /init\n"


def with_probe(board: Board) -> None:
    """Have a board start with it."""
    archive = Archive()
    archive.file(f"{NAME}.ko", _module())
    archive.file("probe", FIRST.encode(), 0o755)
    board.more_initrd = archive.data()
    board.arguments += f" {ARGUMENT}"


def taken(board: Board) -> list[bytes]:
    """All transfers so far."""
    folder = "/run/probe"
    said = board.shell(
        f"mkdir -p {folder} && {{ mountpoint -q {folder} || mount -t debugfs none {folder}; }} && "
        f"base64 -w0 {folder}/{NAME}",
        seconds=300,
    )
    data, found = base64.b64decode(said), []
    while data:
        length = int.from_bytes(data[:2], "little")
        found.append(data[2 : 2 + length])
        data = data[2 + length :]
    return found


def _module() -> Path:
    with tempfile.TemporaryDirectory(prefix="probe-") as name:
        packages = Path(name)
        for deb in sorted(debs().glob("linux-*.deb")):
            subprocess.run(["dpkg-deb", "-x", deb, packages], check=True)
        version = next((packages / "boot").glob("vmlinuz-*")).name.removeprefix("vmlinuz-")
        return own_module(packages, version, base(rootfs()), HERE / "emulated" / NAME, NAME)
