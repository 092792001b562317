"""How exactly one pitch is read, beside other libraries and the bound: `python -m tests.speed.pitch PEERS [TRIALS]`.

PEERS is a Python with aubio, librosa and praat-parselmouth (aubio 0.4.9 needs numpy below 2), made by

    python3 -m venv /tmp/peers && /tmp/peers/bin/pip install "numpy<2" aubio librosa praat-parselmouth

Without it there are no figures of theirs, and nothing is kept. The sampled instruments need FluidSynth and FluidR3
(Debian: fluidsynth, fluid-soundfont-gm). All read the same stretches of sound: tones in pink noise
(`tests/speed/pitch_signals.py`), TRIALS for each cell, and sampled instruments (`tests/speed/pitch_samples.py`).
`keelnote` is the ear as the box runs it: it is given a stream in blocks of 512, first the noise of the room, then the
tone, or the note of an instrument from its beginning; what it has told when the stretch ends, which is the end of one
of its hops, is its reading. `keelnote, one stretch` is given the stretch by itself, as the others are, and reads it as
a whole. `bound` is what a reader at the Cramér-Rao bound has in a cell on average: no unbiased one is better.
`to_bound` is the root mean square of the errors, each over its own Cramér-Rao bound. Errors over 50 cents are counted
as gross and left out of the rest; what is not read is counted apart. `ms` is processor time, for the ear of a hop of
40 ms. What the ear does with longer streams - the delay after an onset, notes that are held, vibrato, sections - is in
`tests/speed/pitch_stream.py`.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.hearing.own_stream import FACTOR, HOP
from firmware.units import RATE
from tests.speed import pitch_ours, pitch_stream
from tests.speed.pitch_ours import by_box
from tests.speed.pitch_samples import BEGIN, BENDS, WINDOW, WINDOWS, Note, made_bend, rendered
from tests.speed.pitch_signals import BANDS, NOISES, Tone, tones
from tests.speed.pitch_signals import WINDOWS as LENGTHS

RESULTS = Path(__file__).parent / "results" / "pitch.json"
TRIALS = 200
GROSS = 50.0
OURS, STRETCH = "keelnote", "keelnote, one stretch"
DRAWS = 2000
SAMPLED = ("same moment", "same stretch of the sample", "how the samples themselves move between the two")
Table = dict[str, dict[str, Any]]


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """A window of a bent note that begins at `start`, the plain note, and by how much and how late the bent one is."""

    plain: np.ndarray
    bent: np.ndarray
    start: int
    bend: float
    delay: float


def rounded(value: float) -> float | None:
    """Four digits, and no number at all where there is none."""
    return float(f"{value:.4g}") if np.isfinite(value) else None


def summary(cents: np.ndarray, ms: float, bounds: np.ndarray | None = None) -> dict[str, float | None]:
    """Figures of one reader in one cell; NaN stands for what was not read."""
    sizes = np.abs(cents)
    fair = sizes <= GROSS
    quantiles = np.quantile(sizes[fair], (0.5, 0.95, 0.99)) if fair.any() else np.full(3, np.nan)
    figures = dict(zip(("median", "p95", "p99"), map(rounded, quantiles), strict=True))
    figures["gross_percent"] = rounded(100 * float((sizes > GROSS).mean()))
    figures["not_read_percent"] = rounded(100 * float(np.isnan(sizes).mean()))
    if bounds is not None and bounds.all() and fair.any():
        figures["to_bound"] = rounded(float(np.sqrt(np.mean((cents[fair] / bounds[: len(cents)][fair]) ** 2))))
    figures["ms"] = rounded(ms)
    return figures


def perfect(bounds: np.ndarray) -> dict[str, float | None]:
    """Mean figures of a reader whose errors are normal and at the bound."""
    errors = np.abs(np.random.default_rng(1).standard_normal((DRAWS, len(bounds))) * bounds)
    quantiles = np.quantile(errors, (0.5, 0.95, 0.99), axis=1).mean(axis=1)
    return dict(zip(("median", "p95", "p99"), map(rounded, quantiles), strict=True))


def cents_off(found: list[float | None], truth: np.ndarray) -> np.ndarray:
    """Cents of each reading from what is true; a reader that is slow may have read only the first."""
    hz = np.array([np.nan if value is None else value for value in found])
    return np.asarray(1200 * np.log2(hz / truth[: len(hz)]))


def synthetic(trials: int) -> dict[str, tuple[str, list[Tone]]]:
    """Every cell of the table of tones: its band and the tones."""
    cells = {}
    for number, (band, limits) in enumerate(BANDS.items()):
        for noise, snr in NOISES.items():
            for window, count in LENGTHS.items():
                made = tones(limits, count, snr, trials, 100 * number + count)
                cells[f"{band}, {window}, {noise}"] = (band, made)
    return cells


def sampled(notes: list[Note]) -> tuple[np.ndarray, list[Place], np.ndarray, np.ndarray, float]:
    """Windows of each note, plain and bent, and where they are; what is true of them; how far bends are off.

    True is the key, and the bend against the plain window. For each bent window there are two plain ones: of the same
    moment, and of the same stretch of the sample.
    """
    windows, places, hz, bends, worst = [], [], [], [], 0.0
    starts = (BEGIN * RATE + np.arange(WINDOWS) * 0.3 * RATE).astype(int)
    for note in notes:
        plain = note.sounds[0]
        for bend, bent in zip(BENDS[1:], note.sounds[1:], strict=True):
            found, delay, _ = made_bend(plain, bent, bend)
            worst = max(worst, abs(found - bend))
            for start in starts:
                middle = 2 ** (bend / 1200) * (start + WINDOW / 2 + delay)
                same = round(middle - WINDOW / 2)
                windows += [one[at : at + WINDOW] for one, at in ((bent, start), (plain, start), (plain, same))]
                places.append(Place(plain, bent, int(start), bend, delay))
                hz.append(note.hz)
                bends.append(bend)
    return np.array(windows), places, np.array(hz), np.array(bends), worst


def sampled_by_box(places: list[Place]) -> dict[str, Any]:
    """What the ear tells of those windows when it has heard the note from its beginning, in the same order.

    It chooses how long it looks back, so the same stretch of the sample is where the middle of that is the same.
    """
    hop = FACTOR * HOP
    found: list[float | None] = []
    begin, hops = time.process_time(), 0
    for place in places:
        end = middle = place.start + WINDOW
        for number, sound in enumerate((place.bent, place.plain, place.plain)):
            if number == 2:
                late = place.start + WINDOW - middle
                end = round(2 ** (place.bend / 1200) * (middle + place.delay) + late)
            told = pitch_ours.last_told(sound[end % hop : end])
            hops += end // hop
            found.append(told.hz if told is not None else None)
            if number == 0 and told is not None:
                middle = end % hop + told.at
    return {"hz": found, "ms": 1000 * (time.process_time() - begin) / max(hops, 1)}


def bend_errors(found: list[float | None], hz: np.ndarray, bends: np.ndarray) -> tuple[np.ndarray, ...]:
    """Cents by which a difference of readings is not the bend: at the same moment, and in the same stretch.

    And how far the sample itself is read to move between those two.
    """
    cents = cents_off(found, np.repeat(hz, 3)[: len(found)])
    cents = cents[: len(cents) // 3 * 3].reshape(-1, 3)
    # A reading far from its key is wrong, though the difference of two such may be right.
    cents[np.abs(cents) > 2 * GROSS] = np.nan
    bend = bends[: len(cents)]
    moment, stretch = cents[:, 0] - cents[:, 1] - bend, cents[:, 0] - cents[:, 2] - bend
    lost = np.isnan(moment) | np.isnan(stretch)
    return tuple(np.where(lost, np.inf, one) for one in (moment, stretch, cents[:, 2] - cents[:, 1]))


def by_peers(python: str | None, cells: dict[str, tuple[np.ndarray, tuple[float, float]]]) -> Table:
    """What the other libraries read in each cell, from one run of `pitch_peers.py`."""
    if python is None:
        return {name: {} for name in cells}
    with tempfile.TemporaryDirectory() as folder:
        for number, (sounds, band) in enumerate(cells.values()):
            np.savez(Path(folder, f"{number:03}.npz"), sounds=sounds, band=band)
        program = str(Path(__file__).with_name("pitch_peers.py"))
        subprocess.run([python, program, folder], check=True)
        found = [json.loads(Path(folder, f"{number:03}.json").read_text("utf-8")) for number in range(len(cells))]
    return dict(zip(cells, found, strict=True))


def by_us(sounds: np.ndarray, streams: list[np.ndarray]) -> dict[str, Any]:
    """What the ear tells at the end of each stream, and what is read of the stretches by themselves."""
    box = pitch_ours.read_all(streams, by_box)
    hops = len(streams[0]) / (FACTOR * HOP)
    return {OURS: box | {"ms": box["ms"] / hops}, STRETCH: pitch_ours.read_all(list(sounds))}


def tables(python: str | None, trials: int) -> tuple[Table, Table]:
    """The table of tones and that of sampled instruments."""
    made = synthetic(trials)
    windows, places, hz, bends, worst = sampled(rendered())
    asked = {name: (np.array([one.sound for one in tones_]), BANDS[band]) for name, (band, tones_) in made.items()}
    asked["sampled"] = (windows, (float(hz.min()), float(hz.max())))
    found = by_peers(python, asked)
    for name, (_, tones_) in made.items():
        found[name] = by_us(asked[name][0], [one.stream for one in tones_]) | found[name]
    ours = {OURS: sampled_by_box(places), STRETCH: pitch_ours.read_all(list(windows))}
    found["sampled"] = ours | found["sampled"]
    of_tones: Table = {}
    for name, (_, tones_) in made.items():
        truth, bounds = np.array([one.hz for one in tones_]), np.array([one.bound for one in tones_])
        of_tones[name] = {
            reader: summary(cents_off(read["hz"], truth), read["ms"], bounds) for reader, read in found[name].items()
        }
        of_tones[name]["bound"] = perfect(bounds)
    of_samples: Table = {name: {} for name in SAMPLED} | {"bends off by": {"most": rounded(worst)}}
    for reader, read in found["sampled"].items():
        for name, errors in zip(SAMPLED, bend_errors(read["hz"], hz, bends), strict=True):
            of_samples[name][reader] = summary(errors, read["ms"])
    return of_tones, of_samples


def show(table: Table) -> None:
    """Print one line for each reader of each cell."""
    for cell, row in table.items():
        for reader, figures in row.items():
            print(f"{cell:32} {reader:21} {json.dumps(figures)}")  # noqa: T201 - a program's result


def main() -> None:
    """Measure, print and keep the figures."""
    trials = int(sys.argv[2]) if len(sys.argv) > 2 else TRIALS
    of_tones, of_samples = tables(sys.argv[1] if len(sys.argv) > 1 else None, trials)
    of_stream = pitch_stream.figures()
    for table in (of_tones, of_samples, of_stream):
        show(table)
    result = {
        "date": time.strftime("%Y-%m-%d"),
        "machine": f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}",
        "trials": trials,
        "cents": of_tones,
        "sampled": of_samples,
        "stream": of_stream,
    }
    if len(sys.argv) > 1:
        RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
