"""Lets this machine run arm64 programs, so that Debian's maintainer scripts can do their work."""

from __future__ import annotations

import platform
import subprocess
from pathlib import Path
from typing import Final

from maker.progress import BuildError

BINFMT: Final = Path("/proc/sys/fs/binfmt_misc")
EMULATOR: Final = Path("/usr/bin/qemu-aarch64-static")

# An ELF file of 64 bits, little-endian, executable or shared, for machine 183 (AArch64): ELF specification.
# As in QEMU's scripts/qemu-binfmt-conf.sh.
MAGIC: Final = r"\x7fELF\x02\x01\x01\x00\x00\x00\x00\x00\x00\x00\x00\x00\x02\x00\xb7\x00"
MASK: Final = r"\xff\xff\xff\xff\xff\xff\xff\x00\xff\xff\xff\xff\xff\xff\xff\xff\xfe\xff\xff\xff"


def enable() -> None:
    """Have the kernel hand arm64 programs to QEMU.

    Raises
    ------
    BuildError
        If the kernel can't, or won't let us.
    """
    if platform.machine() in {"aarch64", "arm64"}:
        return
    if not (BINFMT / "register").exists():
        subprocess.run(["mount", "-t", "binfmt_misc", "binfmt_misc", str(BINFMT)], check=False, capture_output=True)
    if not (BINFMT / "register").exists():
        raise BuildError(
            f"{BINFMT} can't be mounted, so arm64 programs don't run here: be root, and 'modprobe binfmt_misc' on "
            "the machine itself (in a container: on its host), or build on an arm64 machine"
        )
    if any(entry.name.startswith("qemu-aarch64") for entry in BINFMT.iterdir()):
        return
    if not EMULATOR.exists():
        raise BuildError(f"{EMULATOR} is missing: apt-get install qemu-user-static")
    # F: the kernel opens the emulator now, so that it need not be inside the chroot.
    rule = f":qemu-aarch64:M::{MAGIC}:{MASK}:{EMULATOR}:F"
    try:
        (BINFMT / "register").write_text(rule, encoding="ascii")
    except OSError as error:
        raise BuildError(f"the kernel refuses to hand arm64 programs to QEMU ({error}): be root") from None
