"""The root file system as a folder: Debian's part with our own layer on top."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from maker import pins, wheels
from maker.base import compile_python
from maker.inputs import EPOCH, HERE, PROJECT, listed
from maker.kernel import Kernel
from maker.progress import run

UNITS = "usr/lib/systemd/system"

SERVICE_PLACES = {
    **dict.fromkeys((".service", ".socket", ".target", ".mount", ".path", ".timer"), UNITS),
    ".rules": "usr/lib/udev/rules.d",
}
"""Where the files of hardware/service belong, by their ending; programs, which have none, are run by those units."""

KEPT = "usr/share/keelnote/dataclasses"

COMMAND = """#!/usr/bin/python3 -sP
import sys

from hardware.service.quick_load import loading, read

with loading(read()):
    from hardware.desk import main

sys.exit(main())
"""
"""What the wheel's entry point becomes."""


def whole(archive: Path, kernel: Kernel, work: Path) -> Path:
    """Give the folder of the whole root file system: Debian's part with ours on top."""
    tree = work / "root"
    tree.mkdir(parents=True)
    run(["tar", "-C", tree, "--numeric-owner", "-xf", archive])
    own = wheels.own_wheel(work / "wheel")
    added = {"lgpio.py"}
    for wheel in (*wheels.pure_wheels(), own):
        added |= wheels.install(wheel, tree)
    pins.install_pins(work / "packages/usr/include", tree, work)
    _copy(HERE / "files", tree)
    _services(PROJECT / "hardware/service", tree)
    shutil.copytree(kernel.modules / "lib/modules", tree / "usr/lib/modules", dirs_exist_ok=True)
    for unit in listed(HERE / "masked.txt"):
        _link(tree / "etc/systemd/system" / unit, "/dev/null")
    _link(tree / "etc/systemd/system/default.target", "/usr/lib/systemd/system/keelnote.target")
    for unit in listed(HERE / "wanted.txt"):
        _link(tree / f"{UNITS}/keelnote.target.wants" / unit, f"../{unit}")
    for folder in ("media/keelnote", "var/lib/keelnote"):
        (tree / folder).mkdir(parents=True, exist_ok=True)
    _write(tree / "usr/bin/keelnote", COMMAND, 0o755)
    run(["systemd-sysusers", f"--root={tree}"], env=os.environ | {"SOURCE_DATE_EPOCH": str(EPOCH)})
    for leftover in (*tree.glob("etc/*-"), *tree.glob("etc/.pwd.lock")):
        leftover.unlink()
    (tree / "etc/hostname").write_text("keelnote\n", encoding="ascii")
    (tree / "etc/hosts").write_text("127.0.0.1 localhost keelnote\n", encoding="ascii")
    compile_python(tree, tuple(f"{wheels.PLACE}/{name}" for name in sorted(added)))
    _keep_dataclasses(tree)
    return tree


def _keep_dataclasses(tree: Path) -> None:
    """Compile what the box would compile at each start, see hardware/service/quick_load.py."""
    env = {"PATH": "/usr/bin:/bin:/usr/sbin:/sbin", "LC_ALL": "C.UTF-8", "OPENBLAS_NUM_THREADS": "1"}
    python: list[str | Path] = ["chroot", tree, "/usr/bin/python3", "-sPB"]
    nothing = tree / "dev/null"  # some libraries are looked for by a program whose errors go there
    nothing.touch()
    run([*python, "-m", "hardware.service.quick_load", f"/{KEPT}"], env=env | {"PYTHONHASHSEED": "0"})
    nothing.unlink()


def squash(tree: Path, target: Path) -> None:
    """Write a folder into a compressed file system that is the same whenever the folder is."""
    target.unlink(missing_ok=True)
    times = ["-mkfs-time", str(EPOCH), "-all-time", str(EPOCH)]
    run(["mksquashfs", tree, target, "-comp", "zstd", "-b", "128K", "-noappend", "-no-progress", "-quiet", *times])


def _services(source: Path, tree: Path) -> None:
    """Put the project's own units and rules where systemd and udev look."""
    for path in sorted(source.glob("*")):
        if folder := SERVICE_PLACES.get(path.suffix):
            _write(tree / folder / path.name, path.read_text(encoding="utf-8"), 0o644)
        elif path.is_file() and not path.suffix:
            _write(tree / "usr/lib/keelnote" / path.name, path.read_text(encoding="utf-8"), 0o755)


def _write(path: Path, text: str, mode: int) -> None:
    path.write_text(text, encoding="utf-8")
    path.chmod(mode)


def _copy(source: Path, tree: Path) -> None:
    for path in sorted(source.rglob("*")):
        target = tree / path.relative_to(source)
        if path.is_dir():
            target.mkdir(parents=True, exist_ok=True)
        else:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.unlink(missing_ok=True)
            target.write_bytes(path.read_bytes())
            target.chmod(0o755 if path.stat().st_mode & 0o100 else 0o644)


def _link(path: Path, to: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.unlink(missing_ok=True)
    path.symlink_to(to)
