"""What the drone costs, beside FluidSynth on the same core: `python tests/speed/drone.py [pairs]`.

Our side: processor time of `Engine.process` (drone, mixer, limiter) and of the drone alone, for 32 notes of 16 audible
partials, in blocks of 512, per second of sound.

FluidSynth's side: processor time (user and system, of the child process) to render a Standard MIDI File of 32 held
notes with FluidR3, program 20 (church organ), reverb and chorus off, one core, raw samples to /dev/null. That program
has one voice a note: allowing FluidSynth 32 voices or 256 costs the same; for the flute, with two voices a note, 256
cost double. A file of 5 s and one of 65 s are rendered and the difference divided by 60 s, so that start-up and loading
count for nothing. Both sides run in turn, pair by pair, and the ratio is taken within each pair.

Beside it, the time of the block in which a whole chord changes, against the 10.67 ms that a block lasts.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.sound.drone import Drone
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import BLOCK, RATE

RESULTS = Path(__file__).parent / "results" / "drone.json"
SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
NOTES = 32
SHORT, LONG = 5, 65
ORGAN = 19
TICKS_PER_SECOND = 960


def chord(count: int, semitones: float = 0.0) -> DroneSound:
    """Many notes, low enough that all 16 partials of each stay below 14 kHz: 2 to 33 semitones above C2."""
    tones = tuple(ToneSound(65.406 * 2 ** ((number + semitones) / 12)) for number in range(count))
    return DroneSound(on=True, tones=tones, timbre="reed")


def cost(play: Callable[[], object], seconds: float = 10.0) -> float:
    """Processor seconds per second of sound of something that plays one block."""
    blocks = round(seconds * RATE / BLOCK)
    begin = time.process_time()
    for _ in range(blocks):
        play()
    return (time.process_time() - begin) / (blocks * BLOCK / RATE)


def engine_block(notes: int) -> Callable[[], object]:
    """A warm engine that holds a chord."""
    engine, silence = Engine(), np.zeros(BLOCK, np.float32)
    engine.sound = Sound(chord(notes)) if notes else Sound()
    for _ in range(100):
        engine.process(silence)
    return lambda: engine.process(silence)


def drone_block(notes: int) -> Callable[[], object]:
    """A warm drone that holds a chord, by itself."""
    drone, position = Drone(RATE), iter(range(0, 2**60, BLOCK))
    drone.follow(chord(notes), 0)
    for _ in range(100):
        drone.sound(next(position), BLOCK)
    assert np.count_nonzero(drone._voices.partials) == 16 * notes, "all partials must be audible"
    return lambda: drone.sound(next(position), BLOCK)


def standard_midi_file(notes: int, seconds: int) -> bytes:
    """Format 0, one track, 480 ticks a quarter at 120 quarters a minute: notes that begin at once and last."""

    def length(ticks: int) -> bytes:
        parts = [ticks & 0x7F]
        while ticks := ticks >> 7:
            parts.append(0x80 | ticks & 0x7F)
        return bytes(reversed(parts))

    keys = range(36, 36 + notes)
    track = bytes([0, 0xC0, ORGAN]) + b"".join(bytes([0, 0x90, key, 90]) for key in keys)
    wait = length(seconds * TICKS_PER_SECOND)
    track += b"".join((wait if key == 36 else b"\0") + bytes([0x80, key, 0]) for key in keys) + b"\0\xff\x2f\0"
    header = (6).to_bytes(4, "big") + b"\0\0\0\1" + (480).to_bytes(2, "big")
    return b"MThd" + header + b"MTrk" + len(track).to_bytes(4, "big") + track


def fluidsynth_seconds(midi: Path) -> float:
    """Processor seconds to render a file."""
    options = ["synth.reverb.active=0", "synth.chorus.active=0", "synth.cpu-cores=1"]
    words = ["fluidsynth", "-niq", "-r", str(RATE), "-T", "raw", "-F", "/dev/null"]
    words += [word for option in options for word in ("-o", option)]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([*words, str(SOUNDFONT), str(midi)], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def fluidsynth_cost(folder: Path, notes: int) -> float:
    """Processor seconds per second of sound, start-up not counted."""
    times = []
    for seconds in (SHORT, LONG):
        path = folder / f"{notes}-{seconds}.mid"
        path.write_bytes(standard_midi_file(notes, seconds))
        times.append(fluidsynth_seconds(path))
    return (times[1] - times[0]) / (LONG - SHORT)


def change_times(notes: int, changes: int = 100) -> Iterator[float]:
    """Milliseconds of processor time of each block in which a chord of so many notes gives way to another."""
    engine, silence = Engine(), np.zeros(BLOCK, np.float32)
    for number in range(changes + 10):
        engine.sound = Sound(chord(notes, semitones=0.37 * (number % 7)))
        begin = time.thread_time()
        engine.process(silence)
        taken = time.thread_time() - begin
        for _ in range(9):
            engine.process(silence)
        if number >= 10:
            yield 1000 * taken


def machine() -> str:
    """Where it was measured."""
    cores = f"{platform.machine()}, {os.cpu_count()} cores"
    return f"{cores}, Python {platform.python_version()}, numpy {np.__version__}"


def measure(pairs: int) -> dict[str, object]:
    """All figures; shares are percent of one core."""
    engine, drone, idle = engine_block(NOTES), drone_block(NOTES), engine_block(0)
    eight = engine_block(8)
    rows: dict[str, list[float]] = {"engine": [], "drone": [], "eight": [], "idle": [], "fluidsynth": []}
    able = shutil.which("fluidsynth") is not None and SOUNDFONT.exists()
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(pairs):
            rows["engine"].append(100 * cost(engine))
            if able:
                rows["fluidsynth"].append(100 * fluidsynth_cost(Path(folder), NOTES))
            rows["drone"].append(100 * cost(drone))
            rows["eight"].append(100 * cost(eight))
            rows["idle"].append(100 * cost(idle))
    figures: dict[str, object] = {
        "machine": machine(),
        "date": time.strftime("%Y-%m-%d"),
        "pairs": pairs,
        "drone_32_notes_percent": round(statistics.median(rows["drone"]), 3),
        "engine_32_notes_percent": round(statistics.median(rows["engine"]), 3),
        "engine_8_notes_percent": round(statistics.median(rows["eight"]), 3),
        "engine_silent_percent": round(statistics.median(rows["idle"]), 3),
    }
    if able:
        ratios = [ours / theirs for ours, theirs in zip(rows["engine"], rows["fluidsynth"], strict=True)]
        figures |= {
            "fluidsynth_32_voices_percent": round(statistics.median(rows["fluidsynth"]), 3),
            "engine_to_fluidsynth_per_note": round(statistics.median(ratios), 3),
            "engine_to_fluidsynth_worst_pair": round(max(ratios), 3),
        }
    for notes in (8, NOTES):
        times = sorted(change_times(notes))
        figures[f"change_of_{notes}_notes_ms"] = {
            "median": round(statistics.median(times), 3),
            "worst": round(times[-1], 3),
        }
    return figures


def main() -> None:
    """Measure, print and keep the figures."""
    figures = measure(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
    text = json.dumps(figures, indent=2) + "\n"
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
