"""A disk with a stick and a card, and a microphone that counts: what tests of takes are made on."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from firmware.commands import OpenTake
from firmware.events import Event, Fault
from firmware.take_events import TakeSaved
from firmware.takes.recorder import Chunk
from firmware.units import RATE
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.take_spool import Spool
from hardware.simulated.stick import SimulatedStick

FOLDER = "rehearsals/0001"
TAKE = f"{FOLDER}/take-01.flac"


def sound(first: int, end: int, channels: int = 1) -> np.ndarray:
    """Values that say where they belong and that 24 bits hold."""
    mono = (np.arange(first, end) % 8_388_593 / 2**23).astype(np.float32)
    return mono if channels == 1 else np.column_stack((mono, -mono))


class Bench:
    """A disk with a stick and a card, and a microphone that counts."""

    def __init__(self, root: Path, *, card: bool = True, limit: int = 2_000_000_000, stick: str = "stick") -> None:
        self.root = root
        self.stick = SimulatedStick(root / stick / "KEELNOTE")
        self.spool = Spool(root / "card", limit, free=lambda _: 10**10, fsync=lambda _: None) if card else None
        self.events: list[Event] = []
        self.now = 0
        self.heard = 0
        self.disk = DiskThread(self.stick, self.events.append, lambda: self.now, spool=self.spool)

    def start(self, channels: int = 1, part_samples: int = 0, number: int = 1) -> None:
        self.channels, self.number, self.first = channels, number, self.heard
        path = f"{FOLDER}/take-{number:02d}.flac"
        self.disk.submit(OpenTake(number, path, self.heard, channels, part_samples))

    def hear(self, seconds: float, *, last: bool = False) -> None:
        left = round(seconds * RATE)
        while left > 0:
            count = min(left, 4800)
            left -= count
            piece = sound(self.heard, self.heard + count, self.channels)
            self.disk.submit(Chunk(self.number, self.heard, piece, last and left == 0))
            self.heard += count
            self.now += count
            self.disk.pump()

    def wait(self, seconds: int) -> None:
        for _ in range(seconds):
            self.now += RATE
            self.disk.pump()

    def told(self) -> list[str]:
        return [event.message for event in self.events if isinstance(event, Fault)]

    def saved(self) -> list[TakeSaved]:
        return [event for event in self.events if isinstance(event, TakeSaved)]

    def kept(self, stick: SimulatedStick | None = None, path: str = TAKE) -> np.ndarray:
        return (stick or self.stick).read_take(path, 0, 10**9)

    def on_card(self) -> list[str]:
        return sorted(one.name for one in (self.root / "card").glob("*.au"))
