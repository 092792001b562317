"""Which Debian mirror this machine uses: the build takes the same and leaves no trace of it."""

from __future__ import annotations

from typing import Final

from maker.inputs import SUITE
from maker.progress import BuildError, run

KEYS: Final = "/usr/share/keyrings/debian-archive-keyring.gpg"


def sources() -> str:
    """Give the lines of a sources.list of our release, from the mirrors in the machine's own apt configuration."""
    shown = run(["apt-get", "indextargets", "--format", "$(ORIGIN)|$(LABEL)|$(REPO_URI)", "Created-By: Packages"])
    found: dict[str, str] = {}
    for line in shown.splitlines():
        origin, label, address = line.split("|", 2)
        if origin == "Debian":
            found.setdefault(label, address.rstrip("/"))
    if "Debian" not in found:
        raise BuildError("this machine's apt knows no Debian archive: run 'apt-get update' on a Debian machine")
    archive, security = found["Debian"], found.get("Debian-Security")
    lines = [f"deb [signed-by={KEYS}] {archive} {SUITE} main non-free-firmware"]
    lines += [f"deb [signed-by={KEYS}] {archive} {SUITE}-updates main non-free-firmware"]
    if security:
        lines += [f"deb [signed-by={KEYS}] {security} {SUITE}-security main non-free-firmware"]
    return "\n".join(lines) + "\n"
