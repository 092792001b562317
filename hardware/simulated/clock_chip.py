"""A clock chip as the kernel shows it, in a folder; its battery can be taken out."""

from __future__ import annotations

import datetime as dt
from pathlib import Path


class SimulatedClockChip:
    """Keeps the folder that `hardware.drivers.clock_chip.known_date` reads; without a date no chip is there.

    Parameters
    ----------
    folder : Path
        Stands for /sys/class/rtc; made if need be.
    today : date or None
        What it says.
    """

    def __init__(self, folder: Path, today: dt.date | None = None) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        if today is not None:
            self.set(today)

    def set(self, today: dt.date) -> None:
        """Let it say a date, at noon in universal time."""
        noon = dt.datetime.combine(today, dt.time(12), dt.UTC)
        self._say(str(int(noon.timestamp())))

    def take_battery_out(self) -> None:
        """Switch off and on without a battery: it begins at its first day."""
        self._say("0")

    def pull_off(self) -> None:
        """Let its wires come off: the kernel still lists it, and can't read it."""
        (self.folder / "rtc0" / "since_epoch").unlink(missing_ok=True)

    def _say(self, seconds: str) -> None:
        (self.folder / "rtc0").mkdir(exist_ok=True)
        (self.folder / "rtc0" / "since_epoch").write_text(f"{seconds}\n", encoding="ascii")
