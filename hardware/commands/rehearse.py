"""`keelnote rehearse`: a whole rehearsal without hardware, many times faster than real time."""

from __future__ import annotations

import argparse
import contextlib
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from firmware.errors import BadFileError, DeviceError
from firmware.parts.drills import NAME as DRILLS
from firmware.parts.drone import NAME as DRONE
from firmware.parts.part import Start
from firmware.ports import Screen, Stick
from firmware.units import RATE, Samples
from hardware.drivers.sound_file import SoundFile
from hardware.drivers.stick import FolderStick
from hardware.loop import OfflineLoop
from hardware.simulated.contact_sheet import contact_sheet
from hardware.simulated.cues import Hands, Keys
from hardware.simulated.keyboard import SimulatedKeyboard
from hardware.simulated.output_folder import OutputFolder, cannot_write
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.pupils import SchoolClass
from hardware.simulated.rehearsal import Camera, Microphone, Recording, Sinks, run_rehearsal
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.script import DEFAULT_SCRIPT, Script, load_script, shipped_scripts
from hardware.simulated.world import World

MakeBox = Callable[[Stick, Screen, Start], OfflineLoop]

STICK: Final = "KEELNOTE"
STICK_SIZE: Final = 16_000_000_000
"""Bytes free on the stick of a rehearsal: those of the computer would make each run another."""
BLOCKS_AT_ONCE: Final = 32
PROGRESS_EVERY: Final = 0.1
"""Seconds of real time between two updates of the progress line."""


class RehearsalStick(FolderStick):
    """A folder as a stick, with the same room on every computer."""

    def free_bytes(self) -> int:
        """Room of a common stick; 0 when absent."""
        return STICK_SIZE if self.present else 0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote rehearse`."""
    shipped = ", ".join(shipped_scripts())
    parser.add_argument(
        "script", nargs="?", metavar="SCRIPT.toml", help=f"script of the rehearsal, or one of {shipped}"
    )
    parser.add_argument("--mic", type=Path, metavar="FILE.wav", help="a recording takes the microphone's place")
    parser.add_argument("--out", type=Path, default=Path("rehearsal"), metavar="DIR", help="folder for what is written")
    parser.add_argument("--quiet", action="store_true", help="print nothing but errors")


def run(args: argparse.Namespace, make_box: MakeBox) -> int:
    """Run a rehearsal and write what came of it; 0 if all went well."""
    script = load_script(args.script or DEFAULT_SCRIPT)
    folder = OutputFolder(args.out)
    with contextlib.ExitStack() as open_files:
        recording = open_files.enter_context(_recording(args.mic, args.out)) if args.mic else None
        folder.begin()
        began = time.perf_counter()
        try:
            outcome = _rehearse(script, recording, folder, make_box, _Progress(script.title, quiet=args.quiet))
            folder.finish()
        except (OSError, soundfile.LibsndfileError) as error:
            if isinstance(error, DeviceError):
                raise
            raise cannot_write(args.out, error) from error
        took = time.perf_counter() - began
    if not args.quiet:
        print("\n".join((*_report(folder, outcome, took, recording), *script.remarks)))
    return 0


@dataclass(frozen=True, slots=True)
class _Outcome:
    seconds: float
    photographs: int


class _Progress:
    """One line on the terminal that is written over; nothing where there is no terminal."""

    def __init__(self, title: str, *, quiet: bool) -> None:
        self._title = title
        self._live = not quiet and sys.stdout.isatty()
        self.total = 0.0
        self._next = 0.0

    def __call__(self, seconds: float) -> None:
        now = time.perf_counter()
        if not self._live or (now < self._next and seconds < self.total):
            return
        self._next = now + PROGRESS_EVERY
        part = min(seconds / self.total, 1.0) if self.total else 1.0
        bar = "#" * round(20 * part)
        end = "\n" if seconds >= self.total else ""
        print(f"\r{self._title[:40]} [{bar:<20}] {seconds:5.0f} of {self.total:.0f} s", end=end, flush=True)


def _recording(mic: Path, out: Path) -> SoundFile:
    if mic.resolve().is_relative_to(out.resolve()):
        allowed = "a recording outside of the output folder, which is replaced"
        raise BadFileError("microphone recording", str(mic), allowed, "Copy it, or choose another --out.")
    return SoundFile(mic)


def _rehearse(
    script: Script, recording: SoundFile | None, folder: OutputFolder, make_box: MakeBox, progress: _Progress
) -> _Outcome:
    panel, screen, keyboard = SimulatedPanel(), SimulatedScreen(), SimulatedKeyboard()
    stick = RehearsalStick(folder.path / STICK)
    loop = make_box(stick, screen, Start(values=script.settings, plan=script.plan, stick=True))
    panel.start(loop.post, lambda: loop.now)
    keyboard.start(loop.post, lambda: loop.now)
    microphone: Microphone
    if recording is None:
        microphone = World(script, lambda: loop.box.state_of(DRONE).harmony)
    else:
        microphone = Recording(recording.blocks())
    seconds = max(script.seconds, recording.seconds if recording else 0.0)
    progress.total = seconds
    camera = Camera(screen, script.shots)
    with _sound_file(folder.path / "speaker.wav") as speaker, _sound_file(folder.path / "mic.wav") as mic:
        sinks = Sinks(speaker, mic, progress)
        pupils = SchoolClass(panel, script.pupils, lambda: loop.box.state_of(DRILLS).run, script.seed)
        keys = Keys(keyboard, script.cues)
        hands = Hands(panel, script.cues, (pupils, keys))
        done = run_rehearsal(loop, microphone, hands, camera, sinks, seconds)
    (folder.path / "screens.png").write_bytes(contact_sheet(camera.taken, script.title))
    return _Outcome(done, len(camera.taken))


@contextlib.contextmanager
def _sound_file(path: Path) -> Iterator[Callable[[Samples], None]]:
    """Open a 24-bit WAV; answers what takes its blocks, which go to the disk some at a time."""
    waiting: list[Samples] = []
    with soundfile.SoundFile(path, "w", RATE, 1, "PCM_24") as file:

        def take(block: Samples) -> None:
            waiting.append(block)
            if len(waiting) == BLOCKS_AT_ONCE:
                file.write(np.concatenate(waiting))
                waiting.clear()

        yield take
        for block in waiting:
            file.write(block)


def _report(folder: OutputFolder, outcome: _Outcome, took: float, recording: SoundFile | None) -> Iterator[str]:
    """Lines that say what was written and how it went."""
    names = folder.written()
    yield f"Written to {folder.path}:"
    for name in names:
        size = (folder.path / name).stat().st_size
        yield f"  {size:>11,}  {name}"
    takes = sum(name.endswith(".flac") for name in names)
    notes = sum(_rows(folder.path / name) for name in names if name.endswith("notes.csv"))
    counts = _counted(outcome.photographs, "screen"), _counted(takes, "take"), _counted(notes, "note")
    yield f"{', '.join(counts)} heard."
    yield f"{outcome.seconds:.1f} s of rehearsal in {took:.1f} s, {outcome.seconds / took:.1f} times real time."
    if recording is not None and recording.bad_samples:
        yield f"{recording.path}: {recording.bad_samples} samples were not numbers and were taken as 0."
    if recording is not None and recording.cut_short:
        yield f"{recording.path}: the file is cut short; what could be read was used."


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}" + ("" if number == 1 else "s")


def _rows(path: Path) -> int:
    with path.open("rb") as file:
        return max(0, sum(1 for _ in file) - 1)
