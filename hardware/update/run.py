"""The two halves of an update: `install` writes it and has it tried; `confirm`, after the next start, keeps it or not.

Power may fail at any moment. Until `confirm` has written one sector, every start but the one trial takes the old slot,
which an update never touches. rauc checks the signature and writes (its own service does, which is started for this).
No partition is mounted for writing: rauc writes the other slot, `hardware/update/fat.py` two single sectors.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from hardware.update import fat
from hardware.update.judge import bundle_of, refusal, refused_by_rauc
from hardware.update.slots import Where, for_slot, read_where, reboot_argument, selected, selecting

STICK: Final = Path("/media/keelnote/KEELNOTE")
BUNDLE: Final = STICK / "update.raucb"
WHERE: Final = Path("/run/keelnote-boot/where")
OWN_VERSION: Final = Path("/usr/share/keelnote/version")
TEMPLATE: Final = Path("/usr/share/keelnote/rauc.conf")
CONFIGURATION: Final = Path("/etc/rauc/system.conf")
MEMORY: Final = Path("/var/lib/keelnote/update")
"""On the data partition: what is being tried, and what failed."""

TRYING: Final = MEMORY / "trying"
FAILED: Final = MEMORY / "failed"
"""Check values of images, a line for each trial that came to nothing."""

BOARDS: Final = Path("/proc/device-tree/compatible")

HEALTHY_SECONDS: Final = 20.0
"""How long the box must have run without a new start before an update counts as good."""

PATIENCE_SECONDS: Final = 180.0
"""After this long without that, the old slot is started again."""


def main(arguments: Sequence[str]) -> int:
    """Do one of the two; 0 if there was nothing to complain about."""
    where = read_where(WHERE.read_text(encoding="ascii"))
    if list(arguments) == ["install"]:
        return install(where)
    if list(arguments) == ["confirm"]:
        return confirm(where)
    say("usage: python3 -m hardware.update.run install | confirm")
    return 2


def install(where: Where) -> int:
    """Take the update on the stick, if it is one for this box, and start it once."""
    why = take(where)
    if why:
        tell(f"No update was made: {why}.")
        return 1
    boards = BOARDS.read_text(encoding="ascii") if BOARDS.exists() else ""
    return run("systemctl", "reboot", f"--reboot-argument={reboot_argument(where.other, boards)}").returncode


def take(where: Where) -> str | None:
    """Check the update and write it to the other slot; why not, or None when it is there, complete and checked."""
    CONFIGURATION.parent.mkdir(parents=True, exist_ok=True)
    CONFIGURATION.write_text(TEMPLATE.read_text(encoding="ascii").replace("@PART@", where.part), encoding="ascii")
    shown = run("rauc", "info", "--output-format=json", str(BUNDLE))
    if shown.returncode:
        return refused_by_rauc(shown.stderr + shown.stdout)
    bundle = bundle_of(json.loads(shown.stdout))
    target = where.device(where.other)
    why = refusal(bundle, OWN_VERSION.read_text(encoding="ascii").strip(), size_of(target), failed())
    if why:
        return why
    tell(f"Version {bundle.version} is being written. The box plays on, and starts anew when it is done.")
    try:
        started = run("systemctl", "start", "rauc.service")
        if started.returncode:
            say(started.stderr)
            return "the program that writes it does not start"
        written = run("rauc", "install", str(BUNDLE))
    finally:
        run("systemctl", "stop", "rauc.service", "dbus.service", "dbus.socket")
    if written.returncode:
        say(written.stderr + written.stdout)
        return refused_by_rauc(written.stderr + written.stdout)
    if sha256_of(target, bundle.size) != bundle.sha256:
        return "the card did not keep what was written to it"
    fit(target, where.other)
    MEMORY.mkdir(parents=True, exist_ok=True)
    keep(TRYING, f"{where.other} {bundle.sha256} {bundle.version}\n")
    return None


def confirm(where: Where) -> int:
    """After a start: if this one is a trial, keep it when the box runs well, else go back."""
    usual = selected(fat.read(where.device(1), "autoboot.txt"))
    if usual != where.slot:
        if not healthy():
            say("keelnote: the trial did not run well; the old slot starts again", kernel=True)
            return run("systemctl", "reboot").returncode
        fat.overwrite(where.device(1), "autoboot.txt", selecting(where.slot))
        TRYING.unlink(missing_ok=True)
        tell(f"Version {OWN_VERSION.read_text(encoding='ascii').strip()} runs well and is kept.")
    elif TRYING.exists():
        slot, sha256, version = TRYING.read_text(encoding="ascii").split()
        if int(slot) != where.slot:
            keep(FAILED, "".join(f"{value}\n" for value in (*failed(), sha256)))
            tell(f"Version {version} did not start; the box runs what it ran before.")
        TRYING.unlink()
    return 0


def healthy() -> bool:
    """Whether the box runs for a while without a new start; waits for it."""
    until = time.monotonic() + PATIENCE_SECONDS
    runs_since, restarts = None, None
    while time.monotonic() < until:
        shown = run("systemctl", "show", "-P", "ActiveState", "-P", "NRestarts", "keelnote.service").stdout.split()
        now = time.monotonic()
        if shown[:1] != ["active"] or shown != restarts:
            runs_since, restarts = (now if shown[:1] == ["active"] else None), shown
        elif runs_since is not None and now - runs_since >= HEALTHY_SECONDS:
            return True
        time.sleep(1.0)
    return False


def fit(device: Path, slot: int) -> None:
    """Tell the kernel of a slot which one it is."""
    line = for_slot(fat.read(device, "cmdline.txt"), slot)
    if line is not None:
        fat.overwrite(device, "cmdline.txt", line)


def sha256_of(device: Path, size: int) -> str:
    """Check value of the first bytes of a device, read from it and not from memory."""
    digest = hashlib.sha256()
    with device.open("rb", buffering=0) as file:
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        left = size
        while left > 0 and (piece := file.read(min(left, 1 << 20))):
            digest.update(piece)
            left -= len(piece)
    return digest.hexdigest()


def size_of(device: Path) -> int:
    """How large a device or file is, in bytes."""
    with device.open("rb") as file:
        return file.seek(0, os.SEEK_END)


def failed() -> tuple[str, ...]:
    """Check values of the images that were tried here and did not start, one for each time."""
    return tuple(FAILED.read_text(encoding="ascii").split()) if FAILED.exists() else ()


def keep(path: Path, text: str) -> None:
    """Write a small file so that a power cut leaves the old one or the new one."""
    new = path.with_name(f"{path.name}.new")
    with new.open("w", encoding="ascii") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    new.replace(path)


def tell(line: str) -> None:
    """Say a line to the journal, and on the stick if it is there; not twice, for a stick may come in each day."""
    say(line)
    place = STICK / "update.txt"
    try:
        if place.exists() and place.read_text(encoding="utf-8", errors="replace").endswith(f"{line}\n"):
            return
        with place.open("a", encoding="utf-8") as file:
            file.write(f"{line}\n")
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        say(f"The stick takes no line: {error}")


def say(line: str, *, kernel: bool = False) -> None:
    """Say a line to the journal, or to the kernel's own log, which is on the console at once."""
    if not kernel:
        print(line, flush=True)  # noqa: T201 - a program of its own, whose output the journal takes
        return
    with Path("/dev/kmsg").open("w", encoding="utf-8") as file:
        file.write(f"<4>{line}\n")


def run(*words: str) -> subprocess.CompletedProcess[str]:
    """Run a program of the image to its end."""
    return subprocess.run(words, capture_output=True, text=True, check=False)  # noqa: S603 - words of this file alone


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
