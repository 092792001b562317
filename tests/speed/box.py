"""What the whole box costs: `python tests/speed/box.py [repeats]`.

First `keelnote rehearse`, the default script, as a process of its own: wall seconds, processor seconds and peak memory
(of the process, as the kernel counts it). Then one loop over blocks with an 8-note drone, the ear and a take running
and a player who plays against the drone: processor seconds per second of sound, the stick's work included.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.events import KeyDown, KeyUp, PanelKey
from firmware.parts.part import Start
from firmware.settings import DEFAULTS
from firmware.units import BLOCK, RATE, Samples
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.simulated.screen import SimulatedScreen

RESULTS = Path(__file__).parent / "results" / "box.json"
SECONDS = 30
REHEARSAL_SECONDS = 92.0


def rehearsal(folder: Path) -> tuple[float, float, float]:
    """Wall seconds, processor seconds and peak MB of the default rehearsal."""
    command = [sys.executable, "-m", "hardware.desk", "rehearse", "--quiet", "--out", str(folder)]
    begin = time.perf_counter()
    child = os.posix_spawn(command[0], command, os.environ)
    _, status, usage = os.wait4(child, 0)
    wall = time.perf_counter() - begin
    if status:
        raise SystemExit(f"the rehearsal ended with {os.waitstatus_to_exitcode(status)}")
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def player(at: int) -> Samples:
    """One block of a player on D4, ten cents sharp, eight partials."""
    t = (np.arange(BLOCK) + at) / RATE
    tone = sum(np.sin(2 * np.pi * 293.04 * k * t) / k for k in range(1, 9))
    return np.asarray(0.05 * tone, dtype=np.float32)


def loop_percent(root: Path) -> float:
    """Percent of one core for drone, ear and take together."""
    start = Start(DEFAULTS.put("shape", "seventh").put("octaves", 2), stick=True)
    loop = offline_box(FolderStick(root / "KEELNOTE"), SimulatedScreen(), start)
    for key in (PanelKey.DRONE, PanelKey.EAR, PanelKey.TAKE):
        loop.post(KeyDown(0, key))
        loop.post(KeyUp(0, key))
    own = np.zeros(BLOCK, dtype=np.float32)
    noise = np.random.default_rng(1).standard_normal(BLOCK).astype(np.float32) * np.float32(3e-4)
    begin = spent = 0.0
    for number in range((SECONDS + 4) * RATE // BLOCK):
        sound = player(loop.now) if number * BLOCK > 4 * RATE else np.zeros(BLOCK, dtype=np.float32)
        mic = sound + np.float32(0.3) * own + noise
        begin = time.process_time()
        own = loop.block(mic)
        if number * BLOCK > 4 * RATE:
            spent += time.process_time() - begin
    assert len(loop.box.sound.drone.tones) == 8
    assert loop.box.view(loop.now).heard is not None
    loop.finish()
    return 100.0 * spent / SECONDS


def machine() -> str:
    """Where it was measured."""
    cores = f"{platform.machine()}, {os.cpu_count()} cores"
    return f"{cores}, Python {platform.python_version()}, numpy {np.__version__}"


def main() -> None:
    """Measure, print, and write the results."""
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with tempfile.TemporaryDirectory() as folder:
        runs = [rehearsal(Path(folder) / f"run{number}") for number in range(repeats)]
        loops = []
        for number in range(repeats):
            root = Path(folder) / f"loop{number}"
            root.mkdir()
            loops.append(loop_percent(root))
    wall = statistics.median(run[0] for run in runs)
    results = {
        "machine": machine(),
        "date": time.strftime("%Y-%m-%d"),
        "repeats": repeats,
        "rehearsal_wall_seconds": round(wall, 2),
        "rehearsal_cpu_seconds": round(statistics.median(run[1] for run in runs), 2),
        "rehearsal_times_real_time": round(REHEARSAL_SECONDS / wall, 1),
        "rehearsal_peak_mb": round(max(run[2] for run in runs), 1),
        "drone_ear_take_percent": round(statistics.median(loops), 2),
    }
    RESULTS.write_text(json.dumps(results, indent=2) + "\n", encoding="utf-8")
    sys.stdout.write(json.dumps(results, indent=2) + "\n")


if __name__ == "__main__":
    main()
