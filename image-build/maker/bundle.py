"""Signed updates: one slot's image in a bundle that rauc on the box takes."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from maker.inputs import PROJECT
from maker.keys import Keys, signing_keys
from maker.progress import BuildError, run, step

COMPATIBLE = "keelnote-box"
"""As `hardware/update/judge.py` expects it."""


def bundle(slot: Path, version: str, keys: Keys, target: Path, compatible: str = COMPATIBLE) -> None:
    """Write a bundle of a slot's image, signed.

    "verity" is rauc's format of which every block is checked when it is read: nothing of a bundle that was changed on
    the stick after the check reaches the card.
    """
    target.unlink(missing_ok=True)
    with tempfile.TemporaryDirectory(prefix="bundle-", dir=target.parent) as name:
        folder = Path(name) / "content"
        folder.mkdir()
        os.link(slot, folder / "slot.img")
        manifest = f"[update]\ncompatible={compatible}\nversion={version}\n\n[bundle]\nformat=verity\n"
        (folder / "manifest.raucm").write_text(f"{manifest}\n[image.system]\nfilename=slot.img\n", encoding="ascii")
        sign = [f"--cert={keys.certificate}", f"--key={keys.private}"]
        # zstd: what is packed already (the root) stays as it is, the rest unpacks fastest.
        run(["rauc", "bundle", *sign, "--mksquashfs-args=-comp zstd -b 128K", folder, target])


def main(argv: Sequence[str] | None = None) -> int:
    """Make an update of the image that was built last."""
    parser = argparse.ArgumentParser(prog="image-build/bundle", description="Signs an update of the image.")
    default = PROJECT / "image-build/out"
    parser.add_argument("folder", nargs="?", type=Path, default=default, help="where the image is (image-build/out)")
    args = parser.parse_args(argv)
    try:
        slot, target = args.folder / "slot.img", args.folder / "update.raucb"
        with step("signing the update"):
            bundle(slot, (args.folder / "version").read_text(encoding="ascii").strip(), signing_keys(), target)
    except (BuildError, OSError) as error:
        print(f"image-build/bundle: {error}", file=sys.stderr)
        return 1
    print(f"{target}: {target.stat().st_size / 1e6:.0f} MB; it goes to KEELNOTE/update.raucb on a stick", flush=True)
    return 0
