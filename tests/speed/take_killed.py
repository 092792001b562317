"""Takes after their process is killed or the power is cut: `python tests/speed/take_killed.py [trials]`.

A process records in real time, take after take, as the box does: recorder, disk thread, a folder for a stick. At a
random moment it gets SIGKILL. Every other time the power is cut as well, at its worst: of each file only what the last
fsync made safe is left, and a file that was never synced is empty. Then the folder is mended as at the next
start, and each take compared with what the microphone heard: a sound that repeats nowhere within ten seconds.

A take that was running misses what it had heard after its last sample, counted from the moment of the kill; one that
is not there at all misses everything since its key was pressed.
"""

from __future__ import annotations

import json
import os
import platform
import random
import signal
import statistics
import struct
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.commands import AppendLine, OpenTake
from firmware.events import Event
from firmware.take_events import TakeSaved
from firmware.takes.recorder import Recorder
from firmware.units import BLOCK, RATE, Samples
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.stick import FolderStick
from hardware.drivers.take_spool import Spool

RESULTS = Path(__file__).parent / "results" / "take_killed.json"
FOLDER = "rehearsals/0001"
PERIOD = 10 * RATE
PREROLL = RATE // 2
SHORTEST, LONGEST = 0.3, 6.0
AT_A_TIME = 4


def microphone(first: int, end: int) -> Samples:
    """What the microphone hears: the same noise every ten seconds, exact in 24 bits."""
    values = np.random.default_rng(99).integers(-(2**20), 2**20, PERIOD)
    return (values[np.arange(first, end) % PERIOD] / 2**23).astype(np.float32)


# --- the process that is killed -----------------------------------------------------------------------------------


def record(place: Path, seed: int) -> None:
    """Record in real time until something ends it."""
    chance = random.Random(seed)  # noqa: S311 - any lengths will do
    synced = os.open(place / "synced", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    heard = os.open(place / "heard", os.O_RDWR | os.O_CREAT)

    def fsync(descriptor: int) -> None:
        os.fsync(descriptor)
        line = f"{os.fstat(descriptor).st_size} {Path(f'/proc/self/fd/{descriptor}').readlink()}\n"
        os.write(synced, line.encode())

    def posted(event: Event) -> None:
        if isinstance(event, TakeSaved):
            say(f"saved {event.number} {event.samples}")

    def say(line: str) -> None:
        sys.stdout.write(line + "\n")
        sys.stdout.flush()

    sound = microphone(0, PERIOD)
    recorder = Recorder()
    stick = FolderStick(place / "stick" / "KEELNOTE", fsync=fsync)
    disk = DiskThread(stick, posted, lambda: recorder.now, spool=Spool(place / "card"))
    disk.start()
    say("ready")
    begun = time.monotonic()
    number, change = 0, RATE // 2
    running = False
    while True:
        now = recorder.now
        if now >= change:
            running = not running
            change = now + round(chance.uniform(*((0.2, 2.5) if running else (0.05, 0.4))) * RATE)
            if running:
                number += 1
                first = max(0, now - PREROLL)
                say(f"start {number} {first} {now}")
                disk.submit(OpenTake(number, f"{FOLDER}/take-{number:02d}.flac", first))
                recorder.start(number, first)
            else:
                recorder.stop(now)
                say(f"stop {number} {now}")
            disk.submit(AppendLine(f"{FOLDER}/log.jsonl", json.dumps({"t": now / RATE, "running": running})))
        block = sound[np.arange(now, now + BLOCK) % PERIOD]
        for chunk in recorder.process(block):
            disk.submit(chunk)
        os.pwrite(heard, struct.pack("<q", recorder.now), 0)
        time.sleep(max(0.0, begun + recorder.now / RATE - time.monotonic()))


# --- whoever kills it ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was left after one trial."""

    seed: int
    cut: bool
    seconds: float
    takes: int
    whole: int
    """Takes that had been told to be safe, and are there to the last sample."""
    damaged: tuple[str, ...]
    missing: float | None
    """Seconds that a take which was not yet told to be safe misses; None if there was no such take."""


@dataclass(frozen=True, slots=True)
class Told:
    """What the process said of a take."""

    first: int
    pressed: int
    end: int | None
    saved: int | None


def trial(seed: int, place: Path, longest: float = LONGEST) -> Outcome:
    """Let a process record in a folder, kill it, and look."""
    chance = random.Random(seed)  # noqa: S311 - any moments will do
    cut = seed % 2 == 1
    (place / "stick").mkdir(parents=True)
    command = [sys.executable, __file__, "--record", str(place), str(seed)]
    root = str(Path(__file__).parents[2])
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": root}) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        time.sleep(chance.uniform(SHORTEST, longest))
        child.send_signal(signal.SIGKILL)
        lines = child.stdout.read().splitlines()
        child.wait()
    (heard,) = struct.unpack("<q", (place / "heard").read_bytes())
    if cut:
        cut_power(place)
    return judged(seed, place, heard, told(lines), cut=cut)


def cut_power(place: Path) -> None:
    """Leave of each file what was made safe last."""
    sizes: dict[str, int] = {}
    for line in (place / "synced").read_text(encoding="utf-8").splitlines():
        size, _, name = line.partition(" ")
        sizes[name] = int(size)
    for file in sorted((place / "stick").rglob("*")):
        if file.is_file() and str(file) in sizes:
            os.truncate(file, min(sizes[str(file)], file.stat().st_size))
        elif file.is_file():
            os.truncate(file, 0)


def told(lines: list[str]) -> dict[int, Told]:
    """What the process said, by take; a last line that was cut off is passed over."""
    takes: dict[int, Told] = {}
    for words in (line.split() for line in lines):
        numbers = [int(word) for word in words[1:]]
        if words[0] == "start":
            takes[numbers[0]] = Told(numbers[1], numbers[2], None, None)
        else:
            old = takes[numbers[0]]
            end = numbers[1] if words[0] == "stop" else old.end
            saved = numbers[1] if words[0] == "saved" else old.saved
            takes[numbers[0]] = Told(old.first, old.pressed, end, saved)
    return takes


def judged(seed: int, place: Path, heard: int, takes: dict[int, Told], *, cut: bool) -> Outcome:
    """Mend the folder and compare each take with what was heard."""
    stick = FolderStick(place / "stick" / "KEELNOTE")
    stick.mend()
    names = stick.names(FOLDER)
    whole, damaged, missing = 0, list[str](), None
    for number, take in takes.items():
        name = f"take-{number:02d}.flac"
        kept = stick.read_take(f"{FOLDER}/{name}", 0, 1 << 40) if name in names else np.zeros(0, np.float32)
        if not np.array_equal(kept, microphone(take.first, take.first + len(kept))):
            damaged.append(f"{name} is not what was heard")
        if take.saved is not None:
            whole += 1
            if len(kept) != take.saved or take.end != take.first + take.saved:
                damaged.append(f"{name} had been told to be safe, and lacks something")
            continue
        # It ran on, or its end was on its way to the disk. What came before the key counts for what came after it.
        end = heard if take.end is None else take.end
        lost = max(0, end - max(take.first + len(kept), take.pressed)) / RATE
        missing = max(missing or 0.0, lost)
    return Outcome(seed, cut, heard / RATE, len(takes), whole, tuple(damaged), missing)


def run(trials: int, first_seed: int = 0, longest: float = LONGEST) -> list[Outcome]:
    """Do some trials, several at a time."""
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(AT_A_TIME) as pool:
        seeds = range(first_seed, first_seed + trials)
        return list(pool.map(lambda seed: trial(seed, Path(folder) / str(seed), longest), seeds))


def figures(outcomes: list[Outcome]) -> dict[str, object]:
    """What all trials together say."""
    missing = sorted(one.missing for one in outcomes if one.missing is not None)
    cuts = [one.missing for one in outcomes if one.missing is not None and one.cut]
    return {
        "kills": len(outcomes),
        "of_them_with_the_power_cut": sum(one.cut for one in outcomes),
        "takes_begun": sum(one.takes for one in outcomes),
        "takes_told_to_be_safe": sum(one.whole for one in outcomes),
        "takes_lost_or_damaged": sum(len(one.damaged) for one in outcomes),
        "running_takes": len(missing),
        "missing_s_median": round(statistics.median(missing), 3),
        "missing_s_worst": round(missing[-1], 3),
        "missing_s_worst_by_kill_alone": round(max(set(missing) - set(cuts)), 3),
        "damage": [asdict(one) for one in outcomes if one.damaged],
    }


def main() -> None:
    """Run the trials and write the figures."""
    if sys.argv[1:2] == ["--record"]:
        record(Path(sys.argv[2]), int(sys.argv[3]))
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    found = figures(run(trials)) | {
        "date": time.strftime("%Y-%m-%d", time.gmtime()),
        "machine": f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}",
    }
    text = json.dumps(found, indent=2, ensure_ascii=False) + "\n"
    if trials >= 300:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
