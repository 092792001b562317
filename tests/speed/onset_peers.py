"""Scores onsets with mir_eval, ours beside those of librosa and aubio: `python onset_peers.py FOLDER > figures.json`.

Runs in a Python of its own that has these libraries (they are no dependency of ours): FOLDER holds one .npz for each
scene, named KIND.CONDITION.SEED.npz, with `mic` at 48 kHz, `truth` and `ours` in seconds.
"""

from __future__ import annotations

import importlib
import json
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

librosa: Any = importlib.import_module("librosa")
aubio: Any = importlib.import_module("aubio")
mir_eval: Any = importlib.import_module("mir_eval")

RATE = 48_000
WINDOW = 0.05


def by_librosa(mic: np.ndarray) -> np.ndarray:
    """Find onsets as librosa does by default, at a hop of 256."""
    return librosa.onset.onset_detect(y=mic, sr=RATE, hop_length=256, units="time")


def by_aubio(method: str) -> Callable[[np.ndarray], np.ndarray]:
    """Find onsets as aubio does by one of its methods, window 1024, hop 256."""

    def find(mic: np.ndarray) -> np.ndarray:
        onset = aubio.onset(method, 1024, 256, RATE)
        starts = range(0, len(mic) - 255, 256)
        return np.array([onset.get_last_s() for at in starts if onset(mic[at : at + 256])])

    return find


PEERS = {
    "librosa": by_librosa,
    "aubio hfc": by_aubio("hfc"),
    "aubio complex": by_aubio("complex"),
    "aubio specflux": by_aubio("specflux"),
}


def scored(scenes: list[Path]) -> Iterator[tuple[str, str, int, int, int, np.ndarray]]:
    """Score each finder on each scene: finder, kind and condition, hits, true and found onsets, errors in ms."""
    for path in scenes:
        kind, condition, _ = path.stem.split(".")
        data = np.load(path)
        finders = {"ours": lambda _, data=data: data["ours"], **PEERS}
        for name, find in finders.items():
            found = np.sort(find(data["mic"]))
            pairs = mir_eval.util.match_events(data["truth"], found, WINDOW)
            errors = np.array([1000 * (found[b] - data["truth"][a]) for a, b in pairs])
            yield name, f"{kind} {condition}", len(pairs), len(data["truth"]), len(found), errors


def main() -> None:
    """Print the figures of all scenes of a folder."""
    rows: dict[tuple[str, str], list[Any]] = defaultdict(lambda: [0, 0, 0, []])
    for name, kind, hits, true, found, errors in scored(sorted(Path(sys.argv[1]).glob("*.npz"))):
        row = rows[kind, name]
        row[0], row[1], row[2] = row[0] + hits, row[1] + true, row[2] + found
        row[3].extend(errors)
    table: dict[str, dict[str, Any]] = defaultdict(dict)
    for (kind, name), (hits, true, found, errors) in rows.items():
        size = np.abs(errors)
        table[kind][name] = {
            "f_measure": round(2 * hits / (true + found), 3),
            "median_ms": round(float(np.median(size)), 2) if errors else None,
            "p95_ms": round(float(np.percentile(size, 95)), 2) if errors else None,
            "missed": true - hits,
            "extra": found - hits,
        }
    print(json.dumps(table, allow_nan=False))  # noqa: T201 - a program's result


if __name__ == "__main__":
    main()
