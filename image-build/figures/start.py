"""How soon the box plays after power-on, beside a plain Debian's login prompt on the same emulated machine.

Measured in two ways. By the clock on the wall, on a machine that does nothing else. And by the instructions that the
emulated processors have carried out by then (QEMU's `-icount`), which are the same whatever else this machine does:
that is what the check compares. Waiting counts nothing there, and what two processors do at once counts as one after
the other.
"""

from __future__ import annotations

import shutil
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from emulated.board import READY, Board
from emulated.exact import EXACT
from figures.plain import LOGIN, PlainBoard

DRONE: Final = "kp_7"
TAP_AGAIN: Final = 3.0
"""Seconds; a tap that comes before the box listens to its keys is lost, one that comes too soon ends the drone."""

LONGEST: Final = 900.0
"""Seconds of real time that a start may take before it counts as failed; other things may run on this machine."""


@dataclass(frozen=True, slots=True)
class Moment:
    """How long after power-on: in instructions (0 when they are not counted), and in seconds.

    Parameters
    ----------
    instructions : int
        That the emulated processors have carried out, both together.
    wall : float
        Seconds on the wall.
    processor : float
        Seconds of this machine's processors that QEMU took.
    """

    instructions: int
    wall: float
    processor: float


@dataclass(frozen=True, slots=True)
class OwnStart:
    """A start of the image: says that it is ready; plays its first block; its drone sounds after a tap."""

    ready: Moment
    block: Moment
    sound: Moment


class Stopwatch:
    """Starts with the board's power.

    Parameters
    ----------
    board : Board
        Off still.
    """

    def __init__(self, board: Board, *, counted: bool) -> None:
        self._board = board
        self._counted = counted
        board.power_on()
        self._began = time.monotonic()
        self._pid = board.process_number

    def until(
        self, what: str, happened: Callable[[], bool], meanwhile: Callable[[float], None] | None = None
    ) -> Moment:
        """Wait for something; when it was."""
        while not happened():
            spent = time.monotonic() - self._began
            if spent > LONGEST or not self._board.running():
                raise AssertionError(f"{what}: not within {LONGEST} s\n{self._board.log()[-3000:]}")
            if meanwhile:
                meanwhile(spent)
            time.sleep(0.02)
        return self._now()

    def _now(self) -> Moment:
        wall = time.monotonic() - self._began
        done = int(self._board.control.ask("query-replay")["icount"]) if self._counted else 0
        fields = Path(f"/proc/{self._pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        # proc(5): utime and stime, fields 14 and 15; the first after the name is field 3.
        ticks = int(fields[11]) + int(fields[12])
        return Moment(done, wall, ticks / 100)


def own_start(image: Path, folder: Path, *, counted: bool) -> OwnStart:
    """Start the image once on a card that has been started before, and have its drone sound."""
    card = flashed(image, folder)
    sound = folder / "sound.wav"
    sound.unlink(missing_ok=True)
    board = Board(card, folder, machine(folder, counted=counted), looked_into=False)
    watch = Stopwatch(board, counted=counted)
    tapped = [-TAP_AGAIN]

    def tap(spent: float) -> None:
        if READY in board.log() and spent - tapped[0] >= TAP_AGAIN:
            tapped[0] = spent
            board.control.tap(DRONE, hold=0.05)

    try:
        ready = watch.until("ready", lambda: READY in board.log())
        block = watch.until("the first block", lambda: _samples(sound).size > 0)
        sounding = watch.until("the drone", lambda: bool(np.any(_samples(sound))), tap)
    finally:
        board.cut_power()
    return OwnStart(ready, block, sounding)


def plain_start(image: Path, folder: Path, *, counted: bool) -> Moment:
    """Start the plain Debian once; when it asks who is there."""
    folder.mkdir(parents=True, exist_ok=True)
    board = PlainBoard(image / "keelnote.img", folder, machine(folder, counted=counted), looked_into=False)
    watch = Stopwatch(board, counted=counted)
    try:
        return watch.until("login", lambda: LOGIN in board.log())
    finally:
        board.cut_power()


def machine(folder: Path, *, counted: bool) -> tuple[str, ...]:
    """Give the same devices for both."""
    return (
        *("-audiodev", f"wav,id=sound,path={folder}/sound.wav,out.frequency=48000,out.channels=2"),
        *("-device", "intel-hda", "-device", "hda-output,audiodev=sound,mixer=off"),
        *("-device", "usb-kbd,bus=usb.0", "-device", "i6300esb"),
        *(EXACT if counted else ()),
    )


def flashed(image: Path, folder: Path) -> Path:
    """A card with the image on it and no room to grow, in a folder that is made anew: as any start but the first."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    card = folder / "card.img"
    subprocess.run(["cp", "--sparse=always", image / "keelnote.img", card], check=True)
    return card


def _samples(sound: Path) -> np.ndarray:
    data = sound.read_bytes() if sound.exists() else b""
    return np.frombuffer(data[44 : len(data) // 4 * 4], dtype="<i2")
