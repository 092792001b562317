"""The command image-build/build."""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from maker import disk, tree
from maker.base import base
from maker.contents import contents
from maker.debs import debs
from maker.initrd import initrd
from maker.inputs import PROJECT, cache_folder
from maker.kernel import Kernel, unpacked_kernel
from maker.keys import signing_keys
from maker.progress import BuildError, run, step
from maker.rootfs import rootfs
from maker.version import image_version
from maker.wheels import pins_source, pure_wheels

TOOLS: Final = {
    "mmdebstrap": "mmdebstrap",
    "qemu-aarch64-static": "qemu-user-static",
    "mksquashfs": "squashfs-tools",
    "mkfs.vfat": "dosfstools",
    "mcopy": "mtools",
    "mkfs.ext4": "e2fsprogs",
    "sfdisk": "fdisk",
    "depmod": "kmod",
    "fdtput": "device-tree-compiler",
    "zstd": "zstd",
    "swig": "swig",
    "aarch64-linux-gnu-gcc": "gcc-aarch64-linux-gnu libc6-dev-arm64-cross",
    "systemd-sysusers": "systemd",
    "make": "make",
    "openssl": "openssl",
    "pip3": "python3-pip",
    "rauc": "rauc",
}
"""Programs that the build runs, and Debian's packages that bring them."""

COMPILED_AGAINST: Final = re.compile(r"-dev$|^linux-headers-|^linux-kbuild-")
"""Packages of which nothing goes into the image."""


def main(argv: Sequence[str] | None = None) -> int:
    """Make the image; say what went wrong in one sentence."""
    parser = argparse.ArgumentParser(prog="image-build/build", description="Makes the SD-card image.")
    default = PROJECT / "image-build/out"
    parser.add_argument("folder", nargs="?", type=Path, default=default, help="where it goes (image-build/out)")
    parser.add_argument("--no-install", action="store_true", help="don't install Debian packages that are missing here")
    args = parser.parse_args(argv)
    os.environ["PATH"] += ":/usr/sbin:/sbin"
    start = time.monotonic()
    try:
        _tools(install=not args.no_install)
        _build(args.folder.resolve())
    except BuildError as error:
        print(f"image-build/build: {error}", file=sys.stderr)
        return 1
    print(f"done in {time.monotonic() - start:.0f} s", flush=True)
    return 0


def _tools(*, install: bool) -> None:
    missing = [packages for tool, packages in TOOLS.items() if not shutil.which(tool)]
    if os.geteuid() != 0:
        raise BuildError("it sets owners of files and mounts /proc in a folder: run it as root")
    if not missing:
        return
    words = " ".join(missing)
    if not install:
        raise BuildError(f"programs are missing: apt-get install {words}")
    with step(f"installing {words}"):
        env = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
        run(["apt-get", "-qq", "update"], env=env)
        run(["apt-get", "-qq", "install", "-y", "--no-install-recommends", *words.split()], env=env)


def _build(out: Path) -> None:
    out.mkdir(parents=True, exist_ok=True)
    packages, system = debs(), rootfs()
    archive = base(system)
    with tempfile.TemporaryDirectory(prefix="image-", dir=cache_folder()) as name:
        work = Path(name)
        work.chmod(0o755)
        with step("kernel, modules"):
            kernel = unpacked_kernel(packages, work, archive)
        with step("the project's wheel and the others, byte code"):
            root = tree.whole(archive, kernel, work)
        version = image_version()
        listing = _listing(system, root, packages, work)
        (root / "usr/share/keelnote").mkdir(parents=True, exist_ok=True)
        (root / "usr/share/keelnote/version").write_text(f"{version}\n", encoding="ascii")
        (root / "usr/share/keelnote/contents.cdx.json").write_text(listing, encoding="utf-8")
        (root / "etc/rauc").mkdir(parents=True, exist_ok=True)
        shutil.copy(signing_keys().certificate, root / "etc/rauc/keyring.pem")
        with step("initial RAM disk"):
            initrd(kernel, root, work / "initrd")
        (root / "usr/bin/busybox").unlink()
        with step("compressed root"):
            tree.squash(root, work / "root.squashfs")
        with step("slot, card"):
            _card(kernel, version, work, out)
        (out / "contents.cdx.json").write_text(listing, encoding="utf-8")
        (out / "version").write_text(f"{version}\n", encoding="ascii")
    _sums(out)


def _card(kernel: Kernel, version: str, work: Path, out: Path) -> None:
    disk.slot_image(kernel, work / "root.squashfs", work / "initrd", version, work, out / "slot.img")
    disk.selector_image(kernel, work, work / "selector.img")
    disk.data_image(work / "data.img")
    parts = {1: work / "selector.img", 2: out / "slot.img", 4: work / "data.img"}
    disk.card_image(parts, out / "keelnote.img")


def _listing(system: Path, root: Path, packages: Path, work: Path) -> str:
    # Of the unpacked packages some were only compiled against.
    shown = [
        run(["dpkg-deb", "-f", deb, "Package", "Version"]).replace("Package: ", "").replace("Version: ", "").split()
        for deb in sorted(packages.glob("*.deb"))
    ]
    unpacked = [(name, version, work / "packages") for name, version in shown if not COMPILED_AGAINST.search(name)]
    own = tuple((work / "wheel").glob("*.whl"))
    return contents((system / "packages.tsv").read_text("utf-8"), root, unpacked, (*pure_wheels(), *own, pins_source()))


def _sums(out: Path) -> None:
    lines = []
    for name in ("keelnote.img", "slot.img", "contents.cdx.json"):
        with (out / name).open("rb") as file:
            lines.append(f"{hashlib.file_digest(file, 'sha256').hexdigest()}  {name}\n")
        print(f"{name}: {(out / name).stat().st_size / 1e6:.0f} MB", flush=True)
    (out / "SHA256SUMS").write_text("".join(lines), encoding="ascii")
