"""Whether the supply of a Raspberry Pi is or was too weak, and how hot it is."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Final

from firmware.selftest.signals import SupplyRead

FLAGS: Final = "sys/devices/platform/soc/soc:firmware/get_throttled"
"""The flags as the kernel hands them on, where it does (raspberrypi-firmware driver, from memory)."""

SENSORS: Final = "sys/class/hwmon"
SENSOR: Final = "rpi_volt"
"""Name of the kernel's sensor of under-voltage (kernel documentation, hwmon/raspberrypi-hwmon)."""

HEAT: Final = "sys/class/thermal/thermal_zone0/temp"

LOW_NOW: Final = 1 << 0
LOW_BEFORE: Final = 1 << 16
"""Bits of the flags (Raspberry Pi documentation, "vcgencmd", get_throttled)."""


def vcgencmd() -> str:
    """What the firmware says when it is asked, empty where it can't be asked."""
    tool = shutil.which("vcgencmd")
    if tool is None:
        return ""
    try:
        done = subprocess.run([tool, "get_throttled"], capture_output=True, text=True, timeout=5, check=False)  # noqa: S603 - a fixed command
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout


def read_supply(at: int, root: Path = Path("/"), ask: Callable[[], str] = vcgencmd) -> SupplyRead:
    """Read the flags from whatever of this system has them; `root` is where its files are."""
    flags = _flags(_text(root / FLAGS))
    if flags is None:
        flags = _flags(ask().partition("=")[2])
    if flags is not None:
        return SupplyRead(at, bool(flags & LOW_NOW), bool(flags & LOW_BEFORE), _celsius(root))
    low = _sensor(root)
    return SupplyRead(at, low, low, _celsius(root))


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return ""


def _flags(text: str) -> int | None:
    """Flags as the kernel and the firmware write them, in hexadecimal."""
    try:
        return int(text.strip(), 16)
    except ValueError:
        return None


def _sensor(root: Path) -> bool | None:
    """What the kernel's sensor says; None where there is none."""
    for sensor in sorted((root / SENSORS).glob("hwmon*")):
        if _text(sensor / "name") == SENSOR:
            alarm = _text(sensor / "in0_lcrit_alarm")
            return alarm == "1" if alarm in {"0", "1"} else None
    return None


def _celsius(root: Path) -> float | None:
    try:
        return int(_text(root / HEAT)) / 1000.0
    except ValueError:
        return None
