"""A plain minimal Debian for arm64, of the release that the image is made of: what the image's start is compared with.

Nothing in it is tuned: mmdebstrap's minbase with systemd, udev, the kernel and its usual tools for the initial RAM
disk, on ext4, with a login prompt on the serial console as systemd gives it where `console=` names one.
"""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from emulated import firmware
from emulated.board import Board
from maker import emulation, mirror
from maker.inputs import EPOCH, SUITE, cache_folder, hash_of
from maker.progress import run, step

PACKAGES: Final = ("systemd-sysv", "udev", "initramfs-tools", "linux-image-arm64")
LOGIN: Final = "login:"
ARGUMENTS: Final = "root=/dev/vda ro quiet console=ttyAMA0"
"""As Debian's installer would put it; `quiet` prints less, which is faster."""

DISK_MIB: Final = 2048


@dataclass(frozen=True, slots=True)
class Plain:
    """The disk, and what the boot loader takes from it."""

    disk: Path
    kernel: Path
    initrd: Path


def plain() -> Plain:
    """Give it, made or from the cache. Making it takes as long as the image's own root file system."""
    folder = cache_folder() / f"plain-{hash_of((), SUITE, str(EPOCH), *PACKAGES)}"
    found = Plain(folder / "disk.img", folder / "kernel", folder / "initrd")
    if (folder / "complete").exists():
        return found
    with step("a plain Debian to compare with (its packages are set up in emulation: a quarter of an hour)"):
        emulation.enable()
        work = folder.with_name(f"{folder.name}.work")
        shutil.rmtree(work, ignore_errors=True)
        work.mkdir(parents=True)
        _bootstrap(work / "root.tar")
        tree = work / "root"
        tree.mkdir()
        run(["tar", "-C", tree, "--numeric-owner", "-xf", work / "root.tar", "--exclude=./dev/*"])
        # The links at the root of a Debian system name the newest kernel (linux-update-symlinks(1)).
        shutil.copy(tree / "vmlinuz", work / "kernel")
        shutil.copy(tree / "initrd.img", work / "initrd")
        with (work / "disk.img").open("wb") as disk:
            disk.truncate(DISK_MIB << 20)
        run(["mkfs.ext4", "-q", "-F", "-d", tree, work / "disk.img"])
        shutil.rmtree(tree)
        (work / "root.tar").unlink()
        (work / "complete").touch()
        shutil.rmtree(folder, ignore_errors=True)
        work.rename(folder)
    return found


def _bootstrap(target: Path) -> None:
    command = ["mmdebstrap", "--mode=root", "--architectures=arm64", "--variant=minbase", "--format=tar"]
    command += ["--skip=check/qemu", f"--include={','.join(PACKAGES)}", SUITE, str(target), "-"]
    env = os.environ | {"SOURCE_DATE_EPOCH": str(EPOCH), "LC_ALL": "C.UTF-8", "DEBIAN_FRONTEND": "noninteractive"}
    run(command, log=target.with_name("plain.log"), env=env, stdin=mirror.sources().encode())


class PlainBoard(Board):
    """The same emulated machine with the plain Debian in it.

    Its command line is the image's, with another disk, kernel, initial RAM disk and arguments.
    """

    def _command(self, loaded: firmware.Loaded) -> list[str]:
        words = super()._command(loaded)
        made = plain()
        for name, value in (("-kernel", made.kernel), ("-initrd", made.initrd), ("-append", ARGUMENTS)):
            words[words.index(name) + 1] = str(value)
        place = next(k for k, word in enumerate(words) if ",if=none,id=card" in word)
        words[place] = f"file={made.disk},if=none,id=card,format=raw,snapshot=on"
        return words
