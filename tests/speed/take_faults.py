"""Every fault of a stick, and what was kept: `python tests/speed/take_faults.py`.

For each row a take of 20 s is begun on a simulated stick over a real folder, with a spool on the card; the fault comes
after 8 s. Then the stick is put right and in, the box switched on again if it was off, and the take read back and
compared with what the microphone heard, sample for sample. Written down are the words that the screen showed, the
samples that are missing, and the number of files that the take is in.
"""

from __future__ import annotations

import json
import os
import platform
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.commands import OpenTake
from firmware.events import Event, Fault
from firmware.messages import line_of, sentence_of
from firmware.take_events import TakeSaved
from firmware.takes.recorder import Recorder
from firmware.units import BLOCK, RATE, Samples
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.take_spool import Spool
from hardware.simulated.stick import SimulatedStick

RESULTS = Path(__file__).parent / "results" / "take_faults.json"
TAKE = "rehearsals/0001/take-01.flac"
SECONDS = 20
FAULT_AT = 8


def microphone(first: int, end: int) -> Samples:
    """Every sample says its own number, exact in 24 bits."""
    return (np.arange(first, end) / 2**23).astype(np.float32)


class Box:
    """What writes takes, a stick, a card, and a microphone that counts."""

    def __init__(self, root: Path, card_bytes: int = 10**9) -> None:
        self.root = root
        self.stick = SimulatedStick(root / "stick" / "KEELNOTE")
        self.heard = 0
        self.told: list[str] = []
        self.saved = 0
        self.stalled = 0
        self.card_bytes = card_bytes
        self.switch_on()

    def switch_on(self) -> None:
        """Begin with what stick and card hold."""
        self.recorder = Recorder()
        self.recorder_began = self.heard
        spool = Spool(self.root / "card", self.card_bytes, free=lambda _: 10**10, fsync=lambda _: None)
        self.disk = DiskThread(self.stick, self.post, lambda: self.heard, spool=spool)

    def post(self, event: Event) -> None:
        """Note what is told."""
        if isinstance(event, Fault):
            self.told.append(event.message)
        if isinstance(event, TakeSaved):
            self.saved = event.samples

    def start(self) -> None:
        """Begin the take with the next sample."""
        self.disk.submit(OpenTake(1, TAKE, 0))
        self.recorder.start(1, 0)

    def hear(self, seconds: float) -> None:
        """Hear so much; while the stick stalls, the disk is not served."""
        end = self.heard + round(seconds * RATE)
        while self.heard < end:
            count = min(BLOCK, end - self.heard)
            for chunk in self.recorder.process(microphone(self.heard, self.heard + count)):
                self.disk.submit(chunk)
            self.heard += count
            if self.heard >= self.stalled:
                self.disk.pump()

    def stop(self) -> None:
        """End the take."""
        for chunk in self.recorder.flush():
            self.disk.submit(chunk)
        self.disk.pump()

    def rest(self, seconds: int) -> None:
        """Let time pass without sound."""
        for _ in range(seconds):
            self.heard += RATE
            self.disk.pump()


Fate = Callable[[Box], None]


def nothing(_box: Box) -> None:
    """Nothing happens."""


def back_after(seconds: float, fault: Fate, remedy: Fate) -> Fate:
    """A fault for so long, then its remedy."""

    def happen(box: Box) -> None:
        fault(box)
        box.hear(seconds)
        remedy(box)

    return happen


def never_back(fault: Fate) -> Fate:
    """The fault stays until the box is switched off."""

    def happen(box: Box) -> None:
        fault(box)
        box.hear(SECONDS - FAULT_AT)
        box.stop()
        box.disk.stop()
        put_right(box)
        box.switch_on()

    return happen


def power_cut(box: Box) -> None:
    """All at once; the stick keeps what was synced."""
    box.stick.pull_out()
    put_right(box)
    box.stick.mend()
    box.switch_on()


def cut_while_away(box: Box) -> None:
    """The stick is pulled, and some seconds later the power goes too."""
    box.stick.pull_out()
    box.hear(5.3)
    put_right(box)
    box.switch_on()


def put_right(box: Box) -> None:
    """A whole stick with room is in."""
    box.stick.put_back()
    box.stick.make_read_only(locked=False)
    box.stick.fill_up(10**10)


def stall(box: Box) -> None:
    """The stick takes nothing for five seconds."""
    box.stalled = box.heard + 5 * RATE


def fill(box: Box) -> None:
    """Half a second of room is left."""
    box.stick.fill_up(72_000)


def nearly_full_card(box: Box) -> None:
    """The stick is out for good, and the card takes two seconds."""
    box.stick.pull_out()
    box.hear(110)


FAULTS: dict[str, Fate] = {
    "none": nothing,
    "pulled for 0.5 s": back_after(0.5, lambda box: box.stick.pull_out(), put_right),
    "pulled for 6 s, writes refused": back_after(6, lambda box: box.stick.pull_out(), put_right),
    "pulled for 6 s, writes pretend to succeed": back_after(6, lambda box: box.stick.pull_out(told=False), put_right),
    "pulled for good, back at the next start": never_back(lambda box: box.stick.pull_out()),
    "stalls for 5 s": stall,
    "full for 6 s, then room is made": back_after(6, fill, put_right),
    "full for good, room at the next start": never_back(fill),
    "locked for 6 s": back_after(6, lambda box: box.stick.make_read_only(), put_right),
    "power cut while recording": power_cut,
    "pulled, and the power cut 5 s later": cut_while_away,
    "pulled, and the box's card full too": nearly_full_card,
}


@dataclass(frozen=True, slots=True)
class Kept:
    """One row of the table; the take is `begun` to `begun + kept` samples of what was heard."""

    fault: str
    heard_s: float
    kept_s: float
    missing_s: float
    exact: bool
    files: int
    shown: tuple[str, ...]


def suffer(fault: str) -> Kept:
    """Record through one fault and look at what is left."""
    with tempfile.TemporaryDirectory() as folder:
        box = Box(Path(folder), 400_000 if "card full" in fault else 10**9)
        box.start()
        box.hear(FAULT_AT)
        before = box.disk
        FAULTS[fault](box)
        if box.disk is before:
            box.hear(max(0.0, SECONDS - box.heard / RATE))
            heard = box.heard
            box.stop()
            put_right(box)
        else:
            heard = box.heard
        box.rest(8)
        names = [name for name in box.stick.names("rehearsals/0001") if name.startswith("take-01")]
        kept = box.stick.read_take(TAKE, 0, 10**9)
        report = box.stick.read_text("report.txt") or ""
        for message in box.told:
            assert sentence_of(message) in report, f"{message} is not in report.txt"
        return Kept(
            fault,
            round(heard / RATE, 3),
            round(len(kept) / RATE, 3),
            round((heard - len(kept)) / RATE, 3),
            bool(np.array_equal(kept, microphone(0, len(kept)))),
            len(names),
            tuple(line_of(message) for message in box.told),
        )


def table(rows: list[Kept]) -> str:
    """The rows as they stand in README.md."""
    lines = ["| what happens to the stick | missing | files | what the screen says |", "| --- | --- | --- | --- |"]
    for row in rows:
        missing = "nothing" if not row.missing_s else f"{row.missing_s:.2f} s at the end"
        lines.append(f"| {row.fault} | {missing} | {row.files} | {'; '.join(row.shown)} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Go through all faults and write the table."""
    rows = [suffer(fault) for fault in FAULTS]
    machine = f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}"
    found = {
        "rows": [asdict(row) for row in rows],
        "date": time.strftime("%Y-%m-%d", time.gmtime()),
        "machine": machine,
    }
    RESULTS.write_text(json.dumps(found, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    sys.stdout.write(table(rows))


if __name__ == "__main__":
    main()
