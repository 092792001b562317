"""Reads stretches of sound by other libraries: `python pitch_peers.py FOLDER`.

Runs in a Python of its own that has them (they are no dependency of ours): FOLDER holds one .npz for each cell of the
table, with `sounds` (trials, samples) at 48 kHz and `band` in Hz; beside it NAME.json is written: for each reader the
Hz (null where it reads nothing) and its processor time in ms a reading. Every reader sees the whole window and is told
the band with a third of an octave to spare, which ours is not; none may call a window unvoiced where it lets us choose.
"""

from __future__ import annotations

import importlib
import json
import math
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

aubio: Any = importlib.import_module("aubio")
librosa: Any = importlib.import_module("librosa")
parselmouth: Any = importlib.import_module("parselmouth")

RATE = 48_000
Reader = Callable[[np.ndarray, float, float], float]

PYIN_TRIALS = 6
"""pyin takes 50 to 300 ms a reading on this grid: it reads only the first so many of each cell."""


def by_aubio(method: str) -> Reader:
    """One of aubio's methods, window and hop the whole stretch."""

    def read(sound: np.ndarray, _low: float, _high: float) -> float:
        pitch = aubio.pitch(method, len(sound), len(sound), RATE)
        pitch.set_unit("Hz")
        pitch.set_silence(-120)
        return float(pitch(sound.astype(np.float32))[0])

    return read


def by_yin(sound: np.ndarray, low: float, high: float) -> float:
    """YIN of librosa in one frame; it needs two periods of the lowest pitch."""
    low = max(low, 2.05 * RATE / len(sound))
    options = {"frame_length": len(sound), "hop_length": len(sound), "center": False}
    return float(librosa.yin(sound, fmin=low, fmax=high, sr=RATE, **options)[0])


def by_pyin(sound: np.ndarray, low: float, high: float) -> float:
    """Probabilistic YIN of librosa on a grid of 2 cents (10 is its default), kept from calling anything unvoiced."""
    low = max(low, 2.05 * RATE / len(sound))
    options = {"frame_length": len(sound), "hop_length": 64, "center": False, "resolution": 0.02, "fill_na": None}
    return float(librosa.pyin(sound, fmin=low, fmax=high, sr=RATE, **options)[0][0])


def by_praat(method: str) -> Reader:
    """One of Praat's methods, its window as long as the stretch; the median if it has several frames in it."""

    def read(sound: np.ndarray, low: float, high: float) -> float:
        seconds = len(sound) / RATE
        # Three periods of the floor are a window, six of the more accurate kind; cross-correlation needs two.
        accurate = method == "to_pitch_ac" and low >= 6.01 / seconds
        floor = (2.02 if method == "to_pitch_cc" else 6.002 if accurate else 3.001) / seconds
        options = {"very_accurate": accurate, "silence_threshold": 0.0, "voicing_threshold": 0.0}
        call = getattr(parselmouth.Sound(sound, RATE), method)
        pitch = call(time_step=0.004, pitch_floor=floor, pitch_ceiling=high, max_number_of_candidates=15, **options)
        found = pitch.selected_array["frequency"]
        found = found[found > 0]
        return float(np.median(found)) if len(found) else math.nan

    return read


READERS: dict[str, Reader] = {
    "aubio yinfft": by_aubio("yinfft"),
    "aubio yinfast": by_aubio("yinfast"),
    "librosa yin": by_yin,
    "librosa pyin": by_pyin,
    "praat ac": by_praat("to_pitch_ac"),
    "praat cc": by_praat("to_pitch_cc"),
}


def read_all(reader: str, sounds: np.ndarray, band: np.ndarray) -> dict[str, Any]:
    """Hz of each stretch, and milliseconds of processor time a reading (its first call, which compiles, apart)."""
    read = READERS[reader]
    low, high = float(band[0]) * 2 ** (-1 / 3), float(band[1]) * 2 ** (1 / 3)
    if reader == "librosa pyin":
        sounds = sounds[: 30 if len(sounds) > 1000 else PYIN_TRIALS]
    found: list[float | None] = []
    times: list[float] = []
    for sound in sounds:
        begin = time.process_time()
        try:
            hz = read(sound, low, high)
        except (ValueError, RuntimeError, librosa.ParameterError, parselmouth.PraatError):
            hz = math.nan  # the window is too short for this reader
        times.append(1000 * (time.process_time() - begin))
        found.append(hz if math.isfinite(hz) and hz > 0 else None)
    return {"hz": found, "ms": float(np.median(times))}


def main() -> None:
    """Read every cell of a folder."""
    warnings.simplefilter("ignore")
    for path in sorted(Path(sys.argv[1]).glob("*.npz")):
        cell = np.load(path)
        readings = {reader: read_all(reader, cell["sounds"], cell["band"]) for reader in READERS}
        path.with_suffix(".json").write_text(json.dumps(readings), encoding="utf-8")


if __name__ == "__main__":
    main()
