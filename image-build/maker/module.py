"""The one kernel module of our own (image-build/module), compiled against the headers of the kernel in the image."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from typing import Final

from maker import emulation
from maker.inputs import HERE, PROJECT, cache_folder, hash_of
from maker.progress import run, step

NAME: Final = "keelnote_reboot"
PLACE: Final = "updates"
"""Folder of modules that are not the kernel's own, which depmod looks into (depmod.d(5))."""

COMPILER: Final = "aarch64-linux-gnu-gcc"
LIBRARIES: Final = ("lib", "usr/lib/ld-linux-*.so.1", "usr/lib/*/ld-linux-*.so.1", "usr/lib/*/libc.so.6")
"""What the programs of Debian's headers need to run: they are arm64 ones, and start in emulation."""


def own_module(packages: Path, version: str, archive: Path, source: Path = HERE / "module", name: str = NAME) -> Path:
    """Give the module, compiled or from the cache.

    Parameters
    ----------
    source : Path
        Folder of its source; that of a test's module is another one.
    name : str
        Its name.
    packages : Path
        Where the headers' packages lie unpacked.
    version : str
        Of the kernel in the image, as `uname -r` says it.
    archive : Path
        Debian's part of the root file system, whose C library the headers' programs run with.
    """
    key = hash_of([*sorted(source.iterdir()), HERE / "maker/module.py"], version, run([COMPILER, "--version"]))
    target = cache_folder() / f"module-{key}" / f"{name}.ko"
    if not target.exists():
        with step(f"our kernel module, for {version}"), tempfile.TemporaryDirectory(prefix="module-") as work:
            made = _made(source, name, packages.resolve(), version, archive, Path(work))
            target.parent.mkdir(parents=True, exist_ok=True)
            # As a whole or not at all: the next build may come in between.
            shutil.copy(made, target.with_suffix(".new"))
            target.with_suffix(".new").rename(target)
    return target


def _made(source: Path, name: str, packages: Path, version: str, archive: Path, work: Path) -> Path:
    emulation.enable()
    folder, libraries = work / "module", work / "libraries"
    shutil.copytree(source, folder)
    libraries.mkdir()
    run(["tar", "-C", libraries, "--wildcards", "-xf", archive, *(f"./{one}" for one in LIBRARIES)])
    home = packages / "usr/src"
    common = next(home.glob("linux-headers-*-common"))
    headers = home / f"linux-headers-{version}"
    # Debian's own two lines name the place where the package would be installed.
    (headers / "Makefile").write_text(f"include {common}/Makefile\n", encoding="ascii")
    settings = [
        "ARCH=arm64",
        "CROSS_COMPILE=aarch64-linux-gnu-",
        f"CC={COMPILER}",  # not the very version that compiled the kernel, which older Debian has not
        "CONFIG_CC_HAS_MIN_FUNCTION_ALIGNMENT=",  # an option that gcc has since version 14; without it another is used
        "CONFIG_DEBUG_INFO_BTF_MODULES=",  # would need the whole kernel with its symbols
        f"KCFLAGS=-ffile-prefix-map={folder}=. -ffile-prefix-map={packages}=.",
    ]
    env = os.environ | {"QEMU_LD_PREFIX": str(libraries), "LC_ALL": "C.UTF-8"}
    run(["make", "-C", headers, f"M={folder}", *settings, "modules"], env=env, cwd=PROJECT)
    run(["aarch64-linux-gnu-strip", "--strip-debug", folder / f"{name}.ko"])
    return folder / f"{name}.ko"
