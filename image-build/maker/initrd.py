"""The initial RAM disk: two scripts, busybox and a dozen modules; it finds the slot and hands over to systemd."""

from __future__ import annotations

from pathlib import Path

from maker import emulation
from maker.cpio import Archive
from maker.inputs import HERE
from maker.kernel import Kernel
from maker.progress import run

ENVIRONMENT = {"PATH": "/usr/bin:/bin:/usr/sbin:/sbin", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "0"}


def initrd(kernel: Kernel, root: Path, target: Path) -> None:
    """Write it to `target`.

    Debian's own tools would make one with everything a PC may need to find its root: 16 s of the emulated board's start
    were spent in it. This one knows where its root is.
    """
    archive = Archive()
    for folder in ("dev", "proc", "sys", "slot", "root", "data", "upper"):
        archive.folder(folder)
    archive.file("bin/busybox", root / "usr/bin/busybox", 0o755)
    archive.link("bin/sh", "busybox")
    archive.file("init", HERE / "initrd/init", 0o755)
    archive.file("early-screen", HERE / "initrd/early-screen", 0o755)
    archive.file("screen", first_picture(root))
    archive.file("keymap", empty_keymap())
    home = f"lib/modules/{kernel.version}"
    files = kernel.needs(kernel.boot_modules)
    for path in files:
        archive.file(f"{home}/{path}", kernel.modules / home / path)
    # In the order in which they can be loaded: each comes after what it needs.
    archive.file("modules", "".join(f"/{home}/{path}\n" for path in files).encode())
    raw = target.with_suffix(".cpio")
    raw.write_bytes(archive.data())
    # zstd unpacks fastest of what this kernel reads; no name and no time in it.
    run(["zstd", "-q", "-19", "-f", "--no-progress", raw, "-o", target])
    raw.unlink()


def empty_keymap() -> bytes:
    """Give a keyboard map in which no key does anything, as loadkmap of busybox reads it.

    Seven letters, a byte for each of 256 tables, whether it follows; each table 128 numbers of two bytes. The tables
    are those that the kernel has by itself (drivers/tty/vt/defkeymap.map): plain, with Shift, AltGr, Control, both,
    Alt, Control and Alt. The number is K_HOLE of linux/keyboard.h.
    """
    tables, hole = (0, 1, 2, 4, 5, 8, 12), 0x0200
    return b"bkeymap" + bytes(number in tables for number in range(256)) + hole.to_bytes(2, "little") * 128 * 7


def first_picture(root: Path) -> bytes:
    """Give what the OLED is sent first, as the box's own driver and drawing code make it: they run in the image."""
    emulation.enable()
    said = run(["chroot", root, "/usr/bin/python3", "-sPB", "-m", "hardware.service.early_screen"], env=ENVIRONMENT)
    return said.encode("ascii")
