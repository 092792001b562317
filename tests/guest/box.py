"""All of the box that touches the stick, run inside the guest until its power is cut; it says how far it is.

    python tests/guest/box.py MOUNT MODE

It ends in order at SIGTERM. MODE is what goes on meanwhile: `record` a take with its log, `settings` are saved beside
it, or `replay` of a take that was finished before. In real time, with the box's own start, recorder, disk thread and
driver; an emulated processor is too slow for the sound engine and the ear, which never touch a stick. The microphone
hears a sequence from which every sample's own number can be told.
"""

from __future__ import annotations

import itertools
import signal
import sys
import threading
import time
from pathlib import Path

import numpy as np

from firmware.commands import AppendLine, CloseTake, KeepSettings, OpenTake
from firmware.passage import take_path
from firmware.settings import write_settings
from firmware.take_events import TakeSaved
from firmware.takes.recorder import Recorder
from firmware.units import RATE, Samples
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.stick import FolderStick
from hardware.switch_on import Found, report, switch_on

BLOCK = 960
REPLAYED_SECONDS = 2
SAVED_EVERY = 2 * RATE
"""As often as a knob that is turned on and on has the box save its settings: each time that they have rested 2 s."""

STEPS = 65_521
"""A prime: the sequence repeats after as many samples."""


def sequence(first: int, count: int) -> Samples:
    """Values that 24 bits hold, each telling its number."""
    return ((np.arange(first, first + count, dtype=np.int64) * 7919 % STEPS) / 2**17).astype(np.float32)


def say(*words: object) -> None:
    print(*words, flush=True)  # noqa: T201 - whoever cuts the power reads it


class Box:
    """Recorder, disk and stick, put together as the box does it."""

    def __init__(self, stick: FolderStick, found: Found) -> None:
        self.stick = stick
        self.folder = found.start.folder
        self.values = found.start.values
        self.recorder = Recorder()
        self.saved = 0
        self.disk = DiskThread(stick, self._post, lambda: self.recorder.now)
        self._begun = time.monotonic()

    def _post(self, event: object) -> None:
        say("event", event)
        self.saved = event.samples if isinstance(event, TakeSaved) else self.saved

    def start(self) -> None:
        """Begin take 1, with what the microphone hears from now on."""
        self.disk.start()
        self.disk.submit(OpenTake(1, take_path(self.folder, 1), 0))
        self.recorder.start(1, 0)

    def stop(self) -> None:
        """End the take and all that is still to be written."""
        now = self.recorder.now
        self.recorder.stop(now)
        for chunk in self.recorder.process(sequence(now, 0)):
            self.disk.submit(chunk)
        self.disk.stop(60.0)
        say("stopped", now)

    def hear(self) -> int:
        """Hear one block, in real time; the number of samples so far."""
        at = self.recorder.now
        for chunk in self.recorder.process(sequence(at, BLOCK)):
            self.disk.submit(chunk)
        now = self.recorder.now
        if now // RATE != at // RATE:
            self.disk.submit(AppendLine(f"{self.folder}/log.jsonl", f'{{"t": {now / RATE}, "what": "level"}}'))
        time.sleep(max(0.0, self._begun + now / RATE - time.monotonic()))
        return now


def main(mount: str, mode: str) -> None:
    """Run until killed, or told to end."""
    ended = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    stick = FolderStick(Path(mount) / "KEELNOTE", mounted=True)
    found = switch_on(stick)
    report(stick, found.report)
    for line in found.report:
        say("found", line)
    say("a4", found.start.values.number("a4"))
    box = Box(stick, found)
    box.start()
    say("folder", box.folder)
    for turn in itertools.count(1):
        heard = box.hear()
        if turn % 3 == 0:
            say("heard", heard)
        if mode == "settings" and heard % SAVED_EVERY == 0:
            box.disk.submit(KeepSettings(write_settings(box.values.put("a4", 400.0 + heard // SAVED_EVERY % 100 / 2))))
        if mode == "replay":
            replay(box, heard)
        if ended.is_set():
            box.stop()
            return


def replay(box: Box, heard: int) -> None:
    """Finish the take after a while, then read it over and over."""
    if heard == REPLAYED_SECONDS * RATE:
        box.disk.submit(CloseTake(1, heard))
        box.recorder.stop(heard)
    elif box.saved:
        first = heard % box.saved
        box.stick.read_take(take_path(box.folder, 1), first, BLOCK)
        say("replayed", first)


if __name__ == "__main__":
    main(*sys.argv[1:])
