"""How well onsets are found, beside librosa and aubio: `python tests/speed/onsets.py [PEERS_PYTHON]`.

Ours hears microphone and own sound as a stream of blocks. PEERS_PYTHON is a Python with librosa, aubio and mir_eval
(aubio 0.4.9 needs numpy below 2); without it there are no figures but the cost. All find onsets in the same microphone
sound; F-measure and matching within 50 ms are mir_eval's. Errors are of the matched onsets, against the definition in
`firmware.hearing.onsets_attack`; the other libraries mean their own by an onset, so their errors hold that difference.
Scenes are described in `tests/speed/onset_scenes.py`.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.hearing.onsets import Onsets
from firmware.units import BLOCK, RATE
from tests.speed.onset_scenes import INSTRUMENTS, STROKES, Scene, sampled, scene, strokes

RESULTS = Path(__file__).parent / "results" / "onsets.json"
SEEDS = range(4)
CONDITIONS = {
    "alone": {"click": False},
    "with click": {"click": True},
    "with click in a room": {"click": True, "room": True},
    "with click and drone": {"click": True, "drone": True},
}
"""What sounds beside the players, and whether they are in a room too."""


def ours(one: Scene) -> tuple[np.ndarray, float]:
    """Onsets in seconds, and processor seconds per second of sound."""
    onsets, found = Onsets(), []
    mic = np.concatenate([one.mic, np.zeros(RATE, np.float32)])
    own = np.concatenate([one.own, np.zeros(RATE, np.float32)])
    struck = np.concatenate([one.struck, np.zeros(RATE, np.float32)])
    begin = time.process_time()
    for at in range(0, len(mic), BLOCK):
        found += onsets.process(*(sound[at : at + BLOCK] for sound in (mic, own, struck)))
    cost = (time.process_time() - begin) / (len(mic) / RATE)
    # What the box played last has no answer in a microphone that is cut off.
    return np.array([onset.at / RATE for onset in found if onset.at < len(one.mic) - BLOCK]), cost


def main() -> None:
    """Measure, print and keep the figures."""
    costs: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        for kind in (STROKES, *INSTRUMENTS):
            notes = strokes(np.random.default_rng(1)) if kind == STROKES else sampled(kind)
            for condition, given in CONDITIONS.items():
                for seed in SEEDS:
                    one = scene(notes, seed, **given)
                    found, cost = ours(one)
                    costs.append(cost)
                    name = Path(folder, f"{kind}.{condition}.{seed}.npz")
                    np.savez(name, mic=one.mic, truth=one.truth / RATE, ours=found)
        table: dict[str, Any] = {}
        if len(sys.argv) > 1:
            program = str(Path(__file__).with_name("onset_peers.py"))
            done = subprocess.run([sys.argv[1], program, folder], check=True, capture_output=True, text=True)
            table = json.loads(done.stdout)
    result = {
        "percent_of_a_core": round(100 * float(np.median(costs)), 2),
        "date": time.strftime("%Y-%m-%d"),
        "machine": f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}",
        "table": table,
    }
    for kind, row in table.items():
        for finder, figures in row.items():
            print(f"{kind:34} {finder:15} {json.dumps(figures)}")  # noqa: T201 - a program's result
    print(f"cost: {result['percent_of_a_core']} % of a core")  # noqa: T201 - the same
    if table:
        RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
