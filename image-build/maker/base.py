"""Debian's part of the root file system, pruned, with byte code; kept by the hash of what it is made of."""

from __future__ import annotations

import shutil
from pathlib import Path

from maker import emulation
from maker.inputs import EPOCH, HERE, cache_folder, hash_of, listed
from maker.progress import run, step

PYTHON_HOMES = ("usr/lib/python3.13", "usr/lib/python3")


def base(rootfs: Path) -> Path:
    """Give an archive of Debian's part: without what the box does not need, with byte code; made or from the cache."""
    parts = [HERE / "pruned.txt", HERE / "maker/base.py", rootfs / "packages.tsv"]
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
        compile_python(tree, PYTHON_HOMES, 2)
        pack(tree, folder / "base.tar")
        shutil.rmtree(tree)
        (folder / "complete").touch()
    return folder / "base.tar"


def compile_python(tree: Path, homes: tuple[str, ...], processes: int = 1) -> None:
    """Make the byte code of all Python files that have none.

    It is never checked against its source when the box runs (PEP 552, "unchecked hash"): the root can't change.
    """
    emulation.enable()
    command = ["chroot", tree, "/usr/bin/python3", "-m", "compileall", "-q", "-j", str(processes)]
    env = {"PATH": "/usr/bin:/bin:/usr/sbin:/sbin", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "0"}
    shared = tree / "dev/shm"  # where two processes keep their locks
    shared.mkdir(parents=True)
    # One process begins at once; more take a while to begin in emulation, which pays for many files only.
    run([*command, "--invalidation-mode", "unchecked-hash", *(f"/{home}" for home in homes)], env=env)
    shutil.rmtree(shared)


def pack(tree: Path, target: Path) -> None:
    """Write a folder into an archive that is the same whenever the folder is."""
    command = ["tar", "-C", tree, "--sort=name", "--numeric-owner", f"--mtime=@{EPOCH}", "--format=posix"]
    run([*command, "--pax-option=exthdr.name=%d/PaxHeaders/%f,delete=atime,delete=ctime", "-cf", target, "."])


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink()
