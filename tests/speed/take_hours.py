"""Eight hours of recording, faster than real time: `python tests/speed/take_hours.py [hours]`.

Recorder, disk thread and a simulated stick over a real folder; the sound is noise of 11 bits that repeats nowhere
within ten seconds, with the count of its seconds added, so that no second is like another. Finished parts are read
back, added to the checksum of all that was read, and deleted. Each simulated minute memory, descriptors and threads are
counted. A second run of one hour pulls the stick six times, for two minutes each, told or not.
"""

from __future__ import annotations

import hashlib
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.commands import OpenTake
from firmware.events import Event, Fault
from firmware.take_events import TakeSaved
from firmware.takes.parts import takes_in
from firmware.takes.recorder import STEP, Recorder
from firmware.units import RATE, Samples
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.flac_file import to_24_bit
from hardware.drivers.take_spool import Spool
from hardware.simulated.stick import SimulatedStick

RESULTS = Path(__file__).parent / "results" / "take_hours.json"
FOLDER = "rehearsals/0001"
PERIOD = 10 * RATE
WARM_UP = 120
"""Simulated seconds before memory is compared: libraries are loaded and buffers are made by then."""
AHEAD = RATE
"""Samples that may wait for the disk before the simulated microphone does."""


def microphone(tile: np.ndarray, first: int, end: int) -> Samples:
    """Samples `first` to `end` of what the microphone hears, exact in 24 bits."""
    at = np.arange(first, end)
    return ((tile[at % PERIOD] + at // RATE % 2**20) / 2**23).astype(np.float32)


def memory_mb() -> float:
    """Memory of this process that is in use now."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * resource.getpagesize() / 1e6


@dataclass(slots=True)
class Evening:
    """One long take under way."""

    root: Path
    pulls: tuple[tuple[int, int], ...] = ()
    """Seconds at which the stick is pulled and put back."""
    heard: Any = field(default_factory=hashlib.sha256)
    read: Any = field(default_factory=hashlib.sha256)
    read_samples: int = 0
    parts: int = 0
    events: list[Event] = field(default_factory=list)

    def run(self, seconds: int, part_minutes: int) -> dict[str, object]:
        """Record so many simulated seconds."""
        tile = np.random.default_rng(7).integers(-1024, 1024, PERIOD)
        recorder = Recorder()
        stick = SimulatedStick(self.root / "stick" / "KEELNOTE", 10**13)
        disk = DiskThread(
            stick,
            self.events.append,
            lambda: recorder.now,
            spool=Spool(self.root / "card", fsync=lambda _: None),
        )
        disk.start()
        disk.submit(OpenTake(1, f"{FOLDER}/take-01.flac", 0, 1, part_minutes * 60 * RATE))
        recorder.start(1, 0)
        begun, cpu = time.perf_counter(), time.process_time()
        counts: list[tuple[float, int, int]] = []
        minute = -1
        while recorder.now < seconds * RATE:
            now = recorder.now
            self._fate(stick, now)
            block = microphone(tile, now, min(now + STEP, seconds * RATE))
            self.heard.update(to_24_bit(block).tobytes())
            for chunk in recorder.process(block):
                disk.submit(chunk)
            while disk.waiting > AHEAD:
                time.sleep(0.0005)
            if now // (60 * RATE) != minute:
                minute = now // (60 * RATE)
                self._take_in(finished=False)
                if now >= WARM_UP * RATE:
                    counts.append((memory_mb(), len(list(Path("/proc/self/fd").iterdir())), threading.active_count()))
        for chunk in recorder.flush():
            disk.submit(chunk)
        disk.stop(timeout=60.0)
        self._take_in(finished=True)
        return self._figures(seconds, counts, time.perf_counter() - begun, time.process_time() - cpu, disk.dropped)

    def _fate(self, stick: SimulatedStick, now: int) -> None:
        for place, (out, back) in enumerate(self.pulls):
            if stick.present and out * RATE <= now < out * RATE + STEP:
                stick.pull_out(told=place % 2 == 0)
            if not stick.present and back * RATE <= now < back * RATE + STEP:
                stick.put_back()

    def _take_in(self, *, finished: bool) -> None:
        """Read the parts that are finished, and delete them unless the stick may come back to them."""
        folder = self.root / "stick" / "KEELNOTE" / FOLDER
        names = takes_in(one.name for one in folder.glob("*.flac")).get(1, ())
        if self.pulls and not finished:
            return
        for name in names if finished else names[:-1]:
            self._read(folder / name)
            (folder / name).unlink()

    def _read(self, place: Path) -> None:
        import soundfile  # noqa: PLC0415 - the box's own import of it is what is measured

        with soundfile.SoundFile(place) as file:
            for piece in file.blocks(RATE * 10, dtype="int32"):
                self.read.update(piece.tobytes())
                self.read_samples += len(piece)
        self.parts += 1

    def _figures(
        self, seconds: int, counts: list[tuple[float, int, int]], wall: float, cpu: float, dropped: int
    ) -> dict[str, object]:
        memory = [one[0] for one in counts]
        saved = [event.samples for event in self.events if isinstance(event, TakeSaved)]
        return {
            "hours": seconds / 3600,
            "samples_heard": seconds * RATE,
            "samples_in_the_parts": self.read_samples,
            "samples_told_to_be_safe": saved,
            "parts": self.parts,
            "checksums_equal": self.heard.hexdigest() == self.read.hexdigest(),
            "sha256": self.read.hexdigest(),
            "memory_first_mb": round(memory[0], 1),
            "memory_least_mb": round(min(memory), 1),
            "memory_most_mb": round(max(memory), 1),
            "memory_range_mb": round(max(memory) - min(memory), 1),
            "descriptors": sorted({one[1] for one in counts}),
            "threads": sorted({one[2] for one in counts}),
            "dropped_samples": dropped,
            "told": dict(Counter(event.message for event in self.events if isinstance(event, Fault))),
            "seconds_of_work": round(wall, 1),
            "cpu_percent_of_real_time": round(100 * cpu / seconds, 3),
        }


def evening(seconds: int, part_minutes: int = 60, pulls: tuple[tuple[int, int], ...] = ()) -> dict[str, object]:
    """Record in a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        return Evening(Path(folder), pulls).run(seconds, part_minutes)


def apart(*evening_of: object) -> dict[str, object]:
    """Record an evening in a process of its own, so that no other one's memory is counted."""
    command = [sys.executable, __file__, "--evening", json.dumps(evening_of)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    figures: dict[str, object] = json.loads(done.stdout)
    return figures


def main() -> None:
    """Run both evenings and write the figures."""
    if sys.argv[1:2] == ["--evening"]:
        sys.stdout.write(json.dumps(evening(*json.loads(sys.argv[2]))))
        return
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 8.0
    pulls = tuple((600 * place + 300, 600 * place + 420) for place in range(6))
    found = {
        "long": apart(round(hours * 3600), 60, ()),
        "pulled": apart(3600, 20, pulls),
        "date": time.strftime("%Y-%m-%d", time.gmtime()),
        "machine": f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}",
    }
    text = json.dumps(found, indent=2) + "\n"
    if hours >= 8:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
