"""The slot and the whole card as files, without loop devices: FAT by mtools, ext4 by mkfs, pieces laid side by side."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from maker import layout
from maker.inputs import EPOCH, HERE
from maker.kernel import Kernel
from maker.progress import BuildError, run

FIRMWARE = ("start.elf", "start_cd.elf", "start4.elf", "start4cd.elf")
FIXUPS = ("fixup.dat", "fixup_cd.dat", "fixup4.dat", "fixup4cd.dat")

RADIOS = ("/soc/mmc@7e300000", "/soc/serial@7e201000/bluetooth", "/scb/ethernet@7d580000")
"""Nodes of the device tree that are switched off: the bus of the WLAN chip, Bluetooth, the network socket."""

OLED_BUS = "/soc/i2c@7e804000"
OLED_HZ = 400_000
"""At 100 kHz a picture takes 93 ms on the wire, at 400 kHz 23 ms; the SSD1306's data sheet allows 400 kHz."""


def slot_image(kernel: Kernel, root: Path, initrd: Path, version: str, work: Path, target: Path) -> None:
    """Write the file system of one slot: firmware, kernel, device trees, initial RAM disk, root."""
    folder = work / "slot"
    folder.mkdir()
    shutil.copy(kernel.image, folder / "kernel")
    shutil.copy(initrd, folder / "initrd")
    for name in (*FIRMWARE, *FIXUPS):
        shutil.copy(kernel.firmware / name, folder / name)
    for tree in kernel.trees:
        _tuned_tree(tree, folder / tree.name)
    shutil.copy(HERE / "boot/config.txt", folder / "config.txt")
    line = (HERE / "boot/cmdline.txt").read_text(encoding="ascii").replace("@DISK@", layout.SIGNATURE)
    (folder / "cmdline.txt").write_text(line, encoding="ascii")
    (folder / "version").write_text(f"{version}\n", encoding="ascii")
    root.rename(folder / "root.squashfs")
    _fat(folder, layout.SLOT_A, target)
    cut_free_end(target)


def selector_image(kernel: Kernel, work: Path, target: Path) -> None:
    """Write the first partition: the loader of the older boards, and the file that says which slot is started."""
    folder = work / "selector"
    folder.mkdir()
    shutil.copy(kernel.firmware / "bootcode.bin", folder / "bootcode.bin")
    shutil.copy(HERE / "boot/autoboot.txt", folder / "autoboot.txt")
    _fat(folder, layout.SELECTOR, target)


def data_image(target: Path) -> None:
    """Write the data partition, empty."""
    _sparse(target, layout.DATA.size)
    env = os.environ | {"E2FSPROGS_FAKE_TIME": str(EPOCH), "SOURCE_DATE_EPOCH": str(EPOCH)}
    seed = "6b65656c-6e6f-7465-8000-000000000004"
    options = [
        "-U",
        seed,
        "-E",
        f"hash_seed={seed},lazy_itable_init=0,nodiscard,root_owner=0:0",
        "-L",
        layout.DATA.name,
    ]
    run(["mkfs.ext4", "-q", "-F", *options, target], env=env)


def card_image(parts: dict[int, Path], target: Path) -> None:
    """Write the whole card: the table and the partitions that have something in them."""
    _sparse(target, layout.DISK_SECTORS)
    run(["sfdisk", "--quiet", target], stdin=layout.TABLE.encode())
    with target.open("r+b") as card:
        for part in layout.PARTITIONS:
            if source := parts.get(part.number):
                card.seek(part.start * layout.SECTOR)
                with source.open("rb") as data:
                    _copy_sparse(data, card)


def _copy_sparse(data: object, card: object) -> None:
    zero = bytes(2**20)
    while piece := data.read(2**20):  # type: ignore[attr-defined]  # two open files
        if piece == zero[: len(piece)]:
            card.seek(len(piece), 1)  # type: ignore[attr-defined]  # the same
        else:
            card.write(piece)  # type: ignore[attr-defined]  # the same


def _tuned_tree(source: Path, target: Path) -> None:
    shutil.copy(source, target)
    for node in RADIOS:
        if node in _nodes(target):
            run(["fdtput", "-t", "s", target, node, "status", "disabled"])
    run(["fdtput", "-t", "i", target, OLED_BUS, "clock-frequency", str(OLED_HZ)])
    run(["fdtput", "-t", "s", target, OLED_BUS, "status", "okay"])


def _nodes(tree: Path) -> set[str]:
    """Those of RADIOS that this board has."""
    found = set()
    for node in RADIOS:
        parent, _, name = node.rpartition("/")
        try:
            names = run(["fdtget", "-l", tree, parent or "/"]).split()
        except BuildError:
            continue
        if name in names:
            found.add(node)
    return found


def _fat(folder: Path, part: layout.Partition, target: Path) -> None:
    _sparse(target, part.size)
    run(["mkfs.vfat", "--invariant", "-F", "32", "-i", f"4b454c{part.number:02x}", "-n", part.name, target])
    files = sorted(folder.iterdir())
    for path in files:
        os.utime(path, (EPOCH, EPOCH))
    env = os.environ | {"TZ": "UTC", "MTOOLS_SKIP_CHECK": "1"}
    run(["mcopy", "-m", "-i", target, *files, "::"], env=env)


def cut_free_end(target: Path) -> None:
    """Cut off what holds no file: an update need not carry, write and read back two thirds of a slot for nothing.

    FAT32 by Microsoft's "FAT File System Specification" 1.03: sectors of a cluster at byte 13, reserved sectors at 14,
    number of tables at 16, sectors of a table at 36; cluster 2 is the first one behind the tables.
    """
    with target.open("r+b") as file:
        head = file.read(90)
        sector, reserved, size = (int.from_bytes(head[at:end], "little") for at, end in ((11, 13), (14, 16), (36, 40)))
        file.seek(reserved * sector)
        table = memoryview(file.read(size * sector)).cast("I")
        used = max(number for number, entry in enumerate(table) if entry & 0x0FFFFFFF)
        end = (reserved + head[16] * size) * sector + (used - 1) * head[13] * sector
        file.truncate(-(-end // 2**20) * 2**20)


def _sparse(target: Path, sectors: int) -> None:
    target.unlink(missing_ok=True)
    with target.open("wb") as file:
        file.truncate(sectors * layout.SECTOR)
