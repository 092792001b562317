"""QEMU's model of a Raspberry Pi 3B, on which the image starts as on the board itself, but for its firmware.

It has the mailbox by which the kernel speaks to the firmware, and the register that a reboot leaves a partition's
number in (hw/misc/bcm2835_property.c and bcm2835_powermgt.c of QEMU): what our own kernel module does there is seen
from outside. Its watchdog restarts it as soon as it is started, so that the driver is left out here; the machine then
stands still where it would restart.
"""

from __future__ import annotations

import re
import subprocess
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from emulated import firmware
from emulated.board import credential
from emulated.qmp import Control

TREE: Final = "bcm2837-rpi-3-b.dtb"
PM_RSTS: Final = 0x3F100020
"""Address of the register: peripherals begin at 0x3F000000 on this board, the power manager 0x100000 above."""

END: Final = "reboot: Restarting system"


@dataclass(frozen=True, slots=True)
class Reboot:
    """What a reboot left behind.

    Parameters
    ----------
    partition : int
        That the firmware would be told to start from; 0 for none.
    tags : frozenset of int
        Requests to the firmware that QEMU does not know.
    console : str
        What the kernel and systemd said.
    seconds : float
        From power-on to the reboot.
    """

    partition: int
    tags: frozenset[int]
    console: str
    seconds: float


def partition_in(register: int) -> int:
    """Read the number out of bits 0, 2, 4, 6, 8 and 10 (Linux, drivers/watchdog/bcm2835_wdt.c)."""
    return sum((register >> (2 * bit) & 1) << bit for bit in range(6))


def reboot(card: Path, folder: Path, argument: str, seconds: float) -> Reboot:
    """Start the image, have it reboot with an argument, and look what is left.

    Raises
    ------
    AssertionError
        If it does not reboot in time; with the end of the console.
    """
    log, console = folder / "qemu.log", folder / "console-pi3.log"
    unit = f'[Service]\nType=oneshot\nExecStart=/usr/bin/systemctl reboot "--reboot-argument={argument}"\n'
    console.touch()
    words = f"systemd.wants=again.service {credential('extra-unit.again.service', unit)}"
    command = _command(card, folder, console, words)
    command += ["-d", "unimp", "-D", log, "-qmp", f"unix:{folder}/control-pi3,server=on,wait=off"]
    began = time.monotonic()
    with subprocess.Popen(command, stdin=subprocess.DEVNULL) as process:
        try:
            control = Control(folder / "control-pi3")
            while END not in (said := console.read_text(encoding="utf-8", errors="replace")):
                if time.monotonic() - began > seconds or process.poll() is not None:
                    raise AssertionError(f"no reboot within {seconds} s:\n{said[-3000:]}")
                time.sleep(0.5)
            took = time.monotonic() - began
            told = control.ask("human-monitor-command", **{"command-line": f"xp /1wx {PM_RSTS:#x}"})
            control.close()
        finally:
            process.kill()
    tags = re.findall(r"unhandled tag (0x[0-9a-f]+)", log.read_text(encoding="utf-8"))
    return Reboot(partition_in(int(told.split(": ")[1], 16)), frozenset(int(tag, 16) for tag in tags), said, took)


@contextmanager
def started(card: Path, folder: Path, devices: tuple[str, ...], credentials: Mapping[str, str]) -> Iterator[Path]:
    """Start the image with more devices and credentials for systemd; the console's log, until the power is cut."""
    console = folder / "console-pi3.log"
    words = " ".join(credential(name, text) for name, text in credentials.items())
    command = _command(card, folder, console, f"systemd.journald.forward_to_console=1 {words}")
    console.touch()
    with subprocess.Popen([*command, *devices], stdin=subprocess.DEVNULL) as process:
        try:
            yield console
        finally:
            process.kill()


def _command(card: Path, folder: Path, console: Path, words: str) -> list[str | Path]:
    loaded = firmware.load(card, folder / "loaded")
    tree = folder / "tree.dtb"
    tree.write_bytes(firmware.read_file(card, loaded.slot, TREE))
    known = loaded.arguments.replace("console=tty1 quiet loglevel=3", "console=ttyAMA0,115200 loglevel=6")
    known += f" deferred_probe_timeout=1 module_blacklist=bcm2835_wdt {words}"
    return [
        *("qemu-system-aarch64", "-M", "raspi3b", "-display", "none", "-no-reboot"),
        *("-dtb", tree, "-append", known, "-kernel", loaded.kernel, "-initrd", loaded.initrd),
        *("-drive", f"file={card},if=sd,format=raw", "-serial", f"file:{console}", "-serial", "null"),
    ]
