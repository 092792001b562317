"""Slows the WAV files of a folder down to half speed by other libraries: `python stretch_peers.py FOLDER [PEER ...]`.

Runs in a Python of its own that has these libraries (they are no dependency of ours). Beside NAME.wav it writes
NAME.PEER.wav, and prints for each peer the processor time per second of what it gave.
"""

from __future__ import annotations

import importlib
import json
import resource
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

soundfile: Any = importlib.import_module("soundfile")
librosa: Any = importlib.import_module("librosa")
pyrubberband: Any = importlib.import_module("pyrubberband")
signalsmith: Any = importlib.import_module("python_stretch.Signalsmith")

SPEED = 0.5


def by_librosa(sound: np.ndarray, _rate: int) -> np.ndarray:
    """Slow down as librosa does by default: a plain phase vocoder."""
    return librosa.effects.time_stretch(sound, rate=SPEED)


def by_rubberband(*options: str) -> Callable[[np.ndarray, int], np.ndarray]:
    """Slow down by the rubberband program."""
    return lambda sound, rate: pyrubberband.time_stretch(sound, rate, SPEED, rbargs=dict.fromkeys(options, ""))


def by_python_stretch(sound: np.ndarray, rate: int) -> np.ndarray:
    """Slow down by python-stretch."""
    stretch = signalsmith.Stretch()
    stretch.preset(1, rate)
    stretch.setTimeFactor(SPEED)
    return np.asarray(stretch.process(sound.astype(np.float32)[None, :]))[0]


PEERS: dict[str, Callable[[np.ndarray, int], np.ndarray]] = {
    "librosa": by_librosa,
    "rubberband": by_rubberband(),
    "rubberband finer": by_rubberband("-3"),
    "python-stretch": by_python_stretch,
}


def spent() -> float:
    """Processor seconds of this process and its children."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def main() -> None:
    """Slow all files down, each by every peer."""
    folder = Path(sys.argv[1])
    names = [path.stem for path in sorted(folder.glob("*.wav"))]
    cost = {}
    wanted = sys.argv[2:] or list(PEERS)
    for peer in wanted:
        slow = PEERS[peer]
        used = length = 0.0
        for name in names:
            sound, rate = soundfile.read(folder / f"{name}.wav")
            begin = spent()
            out = slow(sound, rate)
            used += spent() - begin
            length += len(out) / rate
            whole = np.zeros(round(len(sound) / SPEED))
            whole[: len(out)] = out[: len(whole)]
            soundfile.write(folder / f"{name}.{peer}.wav", whole, rate, "FLOAT")
        cost[peer] = used / length
    sys.stdout.write(json.dumps(cost))


if __name__ == "__main__":
    main()
