"""The root file system as a folder: Debian's part pruned and compiled once, then our own layer on top."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from maker import emulation, pins, wheels
from maker.inputs import EPOCH, HERE, cache_folder, hash_of, listed
from maker.kernel import Kernel
from maker.progress import run, step

PYTHON_HOMES = ("usr/lib/python3.13", "usr/lib/python3")


def base(rootfs: Path) -> Path:
    """Give an archive of Debian's part: without what the box does not need, with byte code; made or from the cache."""
    parts = [HERE / "pruned.txt", HERE / "maker/tree.py", rootfs / "packages.tsv"]
    folder = cache_folder() / f"base-{hash_of(parts, rootfs.name)}"
    if (folder / "complete").exists():
        return folder / "base.tar"
    with step("pruning it, byte code of Debian's Python packages"):
        emulation.enable()
        shutil.rmtree(folder, ignore_errors=True)
        tree = folder / "tree"
        tree.mkdir(parents=True)
        run(["tar", "-C", tree, "--numeric-owner", "-xf", rootfs / "root.tar", "--exclude=./dev/*"])
        for pattern in listed(HERE / "pruned.txt"):
            for path in sorted(tree.glob(pattern)):
                _remove(path)
        # What the packages' own scripts made is checked against times that the image does not keep.
        for path in sorted(tree.glob("usr/lib/**/__pycache__")):
            _remove(path)
        compile_python(tree, PYTHON_HOMES)
        pack(tree, folder / "base.tar")
        shutil.rmtree(tree)
        (folder / "complete").touch()
    return folder / "base.tar"


def whole(archive: Path, kernel: Kernel, work: Path) -> Path:
    """Give the folder of the whole root file system: Debian's part with ours on top."""
    tree = work / "root"
    tree.mkdir(parents=True)
    run(["tar", "-C", tree, "--numeric-owner", "-xf", archive])
    own = wheels.own_wheel(work / "wheel")
    for wheel in (*wheels.pure_wheels(), own):
        wheels.install(wheel, tree)
    pins.install_pins(work / "packages/usr/include", tree, work)
    _copy(HERE / "files", tree)
    shutil.copytree(kernel.modules / "lib/modules", tree / "usr/lib/modules", dirs_exist_ok=True)
    for unit in listed(HERE / "masked.txt"):
        _link(tree / "etc/systemd/system" / unit, "/dev/null")
    _link(tree / "etc/systemd/system/default.target", "/usr/lib/systemd/system/keelnote.target")
    for folder in ("media/keelnote", "var/lib/keelnote"):
        (tree / folder).mkdir(parents=True, exist_ok=True)
    run(["systemd-sysusers", f"--root={tree}"], env=os.environ | {"SOURCE_DATE_EPOCH": str(EPOCH)})
    for leftover in (*tree.glob("etc/*-"), *tree.glob("etc/.pwd.lock")):
        leftover.unlink()
    (tree / "etc/hostname").write_text("keelnote\n", encoding="ascii")
    (tree / "etc/hosts").write_text("127.0.0.1 localhost keelnote\n", encoding="ascii")
    compile_python(tree, (wheels.PLACE,))
    return tree


def compile_python(tree: Path, homes: tuple[str, ...]) -> None:
    """Make the byte code of all Python files that have none.

    It is never checked against its source when the box runs (PEP 552, "unchecked hash"): the root can't change.
    """
    emulation.enable()
    command = ["chroot", tree, "/usr/bin/python3", "-m", "compileall", "-q", "-j", "2"]
    env = {"PATH": "/usr/bin:/bin:/usr/sbin:/sbin", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "0"}
    shared = tree / "dev/shm"  # where two processes keep their locks
    shared.mkdir(parents=True)
    run([*command, "--invalidation-mode", "unchecked-hash", *(f"/{home}" for home in homes)], env=env)
    shutil.rmtree(shared)


def pack(tree: Path, target: Path) -> None:
    """Write a folder into an archive that is the same whenever the folder is."""
    command = ["tar", "-C", tree, "--sort=name", "--numeric-owner", f"--mtime=@{EPOCH}", "--format=posix"]
    run([*command, "--pax-option=exthdr.name=%d/PaxHeaders/%f,delete=atime,delete=ctime", "-cf", target, "."])


def squash(tree: Path, target: Path) -> None:
    """Write a folder into a compressed file system that is the same whenever the folder is."""
    target.unlink(missing_ok=True)
    times = ["-mkfs-time", str(EPOCH), "-all-time", str(EPOCH)]
    run(["mksquashfs", tree, target, "-comp", "zstd", "-b", "128K", "-noappend", "-no-progress", "-quiet", *times])


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


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink()
