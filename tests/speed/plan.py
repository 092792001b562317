"""What plans and scores cost: `python tests/speed/plan.py [runs]`.

Each file is opened in a process of its own: seconds of processor time from its bytes to its plan, and the most memory
that the process ever held, Python, numpy and the tables of settings among it. The files: a plan of 500 steps, a made
score of 5 MB as plain XML, the same compressed, and the largest scores of the corpus of music21. Then how soon a step
is heard: samples from the block after the pedal to the first that differs from a box whose pedal was not pressed, at 40
moments; a press waits at most one block more.
"""

from __future__ import annotations

import io
import json
import os
import platform
import statistics
import subprocess
import sys
import time
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import music21
import numpy as np

from firmware.events import PanelKey, Pedal
from firmware.parts.part import Start
from firmware.plan.plan import Plan, PlanStep
from firmware.plan.plan_text import write_plan
from firmware.units import BLOCK, RATE, Samples
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen

RESULTS = Path(__file__).parent / "results" / "plan.json"
CORPUS = Path(music21.__file__).parent / "corpus" / "beethoven"
STEPS = 500
SIZE = 5_000_000
MOMENTS = 40

PEAK = 'int(re.search("VmHWM: *([0-9]+)", open("/proc/self/status").read().replace(chr(9), " "))[1]) / 1024'
"""Most memory of this program alone; what getrusage counts begins with that of the process which started it."""

OPEN = f"""
import re, sys, time
from hardware.plan_files import plan_of_file
data = open(sys.argv[1], "rb").read()
begin = time.process_time()
plan, problems, _ = plan_of_file(data, sys.argv[1])
taken = time.process_time() - begin
assert not problems
print(taken, {PEAK}, len(plan.steps))
"""
IMPORT = f"import re, hardware.plan_files; print({PEAK})"


def plan_of_steps(count: int) -> bytes:
    """A plan in which every step sets a dozen things."""
    tonics = ("Bb", "Eb", "F", "C", "Ab")
    steps = tuple(
        PlanStep(
            f"Step {number}",
            (
                ("tonic", tonics[number % 5]),
                ("mode", "major"),
                ("shape", "triad"),
                ("octave", 2),
                ("third_level", -3.0),
                ("timbre", "reed"),
                ("reading", "clarinet"),
                ("tempo", 60.0 + number % 100),
                ("meter", "4/4x7 3/4"),
                ("count_in", 1),
                ("moves", "92->60 over 8 beats"),
            ),
            "A marker",
            "Listen down to the tubas before you come in, and breathe together.",
            5.0,
        )
        for number in range(1, count + 1)
    )
    return write_plan(Plan("A long rehearsal", steps)).encode()


def made_score(size: int) -> bytes:
    """A score of so many bytes: sixteen parts, sixteenths, a new key every 16 bars, a mark every 8."""
    note = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration><voice>1</voice>"
    note += "<type>16th</type><stem>up</stem></note>"
    head = "<attributes><divisions>4</divisions><key><fifths>{}</fifths><mode>major</mode></key>"
    head += "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    mark = "<direction><direction-type><rehearsal>{}</rehearsal></direction-type><sound tempo='{}'/></direction>"
    bars = size // (16 * 16 * len(note))
    parts = []
    for part in range(16):
        text = []
        for bar in range(bars):
            inner = head.format(bar // 16 % 7 - 3) if bar % 16 == 0 else ""
            inner += mark.format(bar // 8, 60 + bar % 60) if part == 0 and bar % 8 == 0 else ""
            text.append(f'<measure number="{bar + 1}">{inner}{note * 16}</measure>')
        parts.append(f'<part id="P{part}">{"".join(text)}</part>')
    return f"<score-partwise>{''.join(parts)}</score-partwise>".encode()


def packed(score: bytes) -> bytes:
    """The score as .mxl."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", '<container><rootfile full-path="score.xml"/></container>')
        archive.writestr("score.xml", score)
    return out.getvalue()


def opened(path: Path, runs: int) -> dict[str, float]:
    """Median seconds, and most memory, of opening a file."""
    rows = []
    for _ in range(runs):
        words = (sys.executable, "-c", OPEN, str(path))
        done = subprocess.run(words, capture_output=True, text=True, check=True)
        rows.append([float(word) for word in done.stdout.split()])
    return {
        "seconds": round(statistics.median(row[0] for row in rows), 3),
        "slowest_seconds": round(max(row[0] for row in rows), 3),
        "peak_mb": round(max(row[1] for row in rows), 1),
        "steps": rows[0][2],
    }


def files(folder: Path) -> dict[str, Path]:
    """Write the files to open."""
    score = made_score(SIZE)
    made = {"plan of 500 steps": ("a.toml", plan_of_steps(STEPS)), "score of 5 MB": ("a.musicxml", score)}
    made["the same as .mxl"] = ("a.mxl", packed(score))
    found = {}
    for name, (file, data) in made.items():
        (folder / file).write_bytes(data)
        found[name] = folder / file
    found["string quartet of 6.3 MB in .mxl"] = CORPUS / "opus18no5.mxl"
    found["string quartet of 10.9 MB in .mxl"] = CORPUS / "opus132.mxl"
    return found


class Rig:
    """A box with a sounding drone and a plan, and its pedal."""

    def __init__(self, folder: Path) -> None:
        plan = Plan("", (PlanStep("F", (("tonic", "F"),)),))
        self.loop = offline_box(FolderStick(folder / "KEELNOTE"), SimulatedScreen(), Start(plan=plan))
        self.panel = SimulatedPanel()
        self.panel.start(self.loop.post, lambda: self.loop.now)
        self.panel.tap(PanelKey.DRONE)

    def block(self) -> Samples:
        self.panel.pump(self.loop.now)
        return self.loop.block(np.zeros(BLOCK, np.float32)).copy()


def heard_after(folder: Path, blocks: int) -> int:
    """Samples from the pedal, pressed after so many blocks, to the first that differs from a box without it."""
    one, other = Rig(folder), Rig(folder)
    for _ in range(blocks):
        one.block()
        other.block()
    pressed = one.loop.now
    one.panel.pedal(Pedal.RIGHT)
    while True:
        at = one.loop.now
        differs = np.flatnonzero(one.block() != other.block())
        if len(differs):
            return at + int(differs[0]) - pressed


def measure(runs: int) -> dict[str, object]:
    """All figures."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        found = {what: opened(path, runs) for what, path in files(folder).items()}
        heard = [heard_after(folder, 60 + moment) for moment in range(MOMENTS)]
    words = (sys.executable, "-c", IMPORT)
    bare = float(subprocess.run(words, capture_output=True, text=True, check=True).stdout)
    return {
        "date": time.strftime("%Y-%m-%d"),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"numpy {np.__version__}",
        "opened": found,
        "peak_mb_without_a_file": round(bare, 1),
        "samples_from_block_to_sound": {"least": min(heard), "median": statistics.median(heard), "most": max(heard)},
        "step_to_sound_ms_at_most": round(1000 * (max(heard) + BLOCK) / RATE, 2),
    }


def main() -> None:
    """Measure, print and keep."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    text = json.dumps(measure(runs), indent=2, ensure_ascii=False) + "\n"
    RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
