"""The slow step: a Debian root file system for arm64, kept by the hash of what it is made of."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from maker import emulation, mirror
from maker.inputs import EPOCH, HERE, SUITE, cache_folder, hash_of, listed
from maker.progress import run, step

PARTS = ("packages.txt", "left-out.txt", "maker/rootfs.py")


def rootfs() -> Path:
    """Give the folder with `root.tar` and its list `packages.tsv`, made or from the cache."""
    key = hash_of([HERE / name for name in PARTS], SUITE, str(EPOCH))
    folder = cache_folder() / f"rootfs-{key}"
    if (folder / "complete").exists():
        print(f"root file system {key}: from {folder}", flush=True)
        return folder
    with step(f"root file system {key} (its packages are set up in emulation: a quarter of an hour)"):
        emulation.enable()
        work = folder.with_name(f"{folder.name}.work")
        shutil.rmtree(work, ignore_errors=True)
        work.mkdir(parents=True)
        _bootstrap(work)
        (work / "complete").touch()
        shutil.rmtree(folder, ignore_errors=True)
        work.rename(folder)
    return folder


def _bootstrap(work: Path) -> None:
    options = []
    for line in listed(HERE / "left-out.txt"):
        kind, pattern = line.split()
        options.append(f"--dpkgopt=path-{kind}={pattern}")
    # Byte code and the hardware database are made later, once, for what is kept: in emulation each package's own
    # run of these is most of the time. Until then a program that does nothing stands in their place.
    shim = 'for name in py3compile py3clean systemd-hwdb; do dpkg-divert --root="$1" --quiet --rename '
    skip = shim + '--add "/usr/bin/$name"; ln -s true "$1/usr/bin/$name"; done'
    unskip = 'for name in py3compile py3clean systemd-hwdb; do rm "$1/usr/bin/$name"; done; '
    unskip += shim + '--remove "/usr/bin/$name"; done'
    table = 'dpkg-query --admindir="$1/var/lib/dpkg" -W -f \'${Package}\\t${Version}\\t${source:Package}\\t'
    table += "${source:Version}\\t${Architecture}\\n' > '" + str(work / "packages.tsv") + "'"
    command = [
        "mmdebstrap",
        "--mode=root",
        "--architectures=arm64",
        "--variant=essential",
        "--format=tar",
        "--skip=check/qemu",
        f"--include={','.join(listed(HERE / 'packages.txt'))}",
        *options,
        f"--essential-hook={skip}",
        f"--customize-hook={unskip}",
        f"--customize-hook={table}",
        SUITE,
        str(work / "root.tar"),
        "-",
    ]
    env = os.environ | {"SOURCE_DATE_EPOCH": str(EPOCH), "LC_ALL": "C.UTF-8", "DEBIAN_FRONTEND": "noninteractive"}
    run(command, log=work / "rootfs.log", env=env, stdin=mirror.sources().encode())
