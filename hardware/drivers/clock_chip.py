"""The date, from a clock chip with a battery; a box without one does not know it."""

from __future__ import annotations

import contextlib
import datetime as dt
from pathlib import Path
from typing import Final

CHIPS: Final = Path("/sys/class/rtc")
"""Clocks that go on while the power is off (kernel documentation, sysfs-class-rtc)."""

EARLIEST: Final = dt.date(2026, 1, 1)
"""A clock whose battery was empty begins anew long before this box was made."""

LATEST: Final = dt.date(2099, 12, 31)
"""What such a chip can count to."""


def known_date(chips: Path = CHIPS) -> str:
    """Today in universal time, as 2026-11-25; empty when there is no clock, or none that can be believed."""
    for chip in sorted(chips.glob("rtc*")):
        with contextlib.suppress(OSError, ValueError, OverflowError):
            seconds = int((chip / "since_epoch").read_text(encoding="ascii"))
            today = dt.datetime.fromtimestamp(seconds, dt.UTC).date()
            if EARLIEST <= today <= LATEST:
                return today.isoformat()
    return ""
