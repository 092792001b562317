"""A take at half speed: pitch, attacks and cost, ours beside others: `python tests/speed/stretch.py [PYTHON]`.

The material, each 48 kHz: clicks of 2 ms in silence; piano, xylophone, snare and trumpet of FluidR3 (notes alone, two
seconds apart); steady tones from 58 to 1760 Hz, alone and as a low chord, whose pitch is the slope of their phase.
PYTHON has librosa, python-stretch and pyrubberband (which calls Debian's `rubberband`); without it ours runs alone.

- **off**: how many milliseconds the steep part of an attack, the first sample within 10 dB of the note's largest, comes
  from where it should: the beginning (the first within 40 dB) to the new tempo, and from there as in the recording.
- **smear**: how much longer it takes from the one to the other than in the recording, in milliseconds: what sounds
  before the attack counts here.
- **early**: energy of the 30 ms before the beginning (but the last 3) against that of the 30 ms of the attack, in dB.
- **louder**: the largest value of the 5 ms from the steep part on, against the recording, in dB.
- **cents**: the largest error of pitch.
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
import soundfile

from firmware.passage import Passage
from firmware.sound.passage_sound import PassageSound
from firmware.sound.stretch import Stretcher
from firmware.units import RATE, cents_of
from hardware.drivers.flac_file import FlacTake, read_flac
from tests.speed import onset_scenes

RESULTS = Path(__file__).parent / "results" / "stretch.json"
SPEED = 0.5
PITCHES = (58.27, 116.54, 220.0, 440.0, 1760.0)
CHORD = tuple(58.27 * ratio for ratio in (1, 2, 2.5, 3, 4))
SAMPLED = {
    "piano": (0, 0, (36, 48, 60, 72, 84)),
    "xylophone": (0, 13, (65, 72, 79, 84)),
    "snare": (9, 0, (38, 40)),
    "trumpet": (0, 56, (58, 65, 74)),
}
STRUCK = ("clicks", "piano", "xylophone", "snare")
SLOT = 2 * RATE


def ours(sound: np.ndarray) -> np.ndarray:
    """Our own, fed as the box feeds it."""
    stretcher = Stretcher(SPEED)
    pieces = [
        stretcher.process(sound[at : at + RATE // 2].astype(np.float32)) for at in range(0, len(sound), RATE // 2)
    ]
    return np.concatenate([*pieces, stretcher.finish()]).astype(np.float64)


def clicks() -> np.ndarray:
    """Ten clicks, each a little way into its two seconds."""
    sound = np.zeros(10 * SLOT)
    for number in range(10):
        at = number * SLOT + RATE // 2 + 37 * number
        click = np.random.default_rng(number).standard_normal(96) * np.exp(-np.arange(96) / 24)
        sound[at : at + 96] = 0.5 * click / np.abs(click).max()
    return sound


def notes_of(name: str) -> np.ndarray:
    """Every third note of an instrument, each alone in its two seconds."""
    onset_scenes.INSTRUMENTS[name] = SAMPLED[name]
    notes = [note.sound for note in onset_scenes.sampled(name) if note.length in {0.25, 1.0}][::3]
    sound = np.zeros(len(notes) * SLOT)
    for number, note in enumerate(notes):
        begin = number * SLOT + RATE // 4
        cut = note[: SLOT - RATE // 2] * np.minimum(1.0, np.arange(SLOT - RATE // 2, 0, -1) / (RATE // 10))
        sound[begin : begin + len(cut)] = cut
    return sound


def tones(*pitches: float) -> np.ndarray:
    """Steady tones for six seconds."""
    t = np.arange(6 * RATE) / RATE
    return np.asarray(sum(0.1 * np.sin(2 * np.pi * hz * t) for hz in pitches))


def materials() -> dict[str, np.ndarray]:
    """All that is slowed down."""
    struck = {"clicks": clicks(), **{name: notes_of(name) for name in SAMPLED}}
    steady = {f"tone {hz:g}": tones(hz) for hz in PITCHES}
    return {**struck, **steady, "chord": tones(*CHORD)}


def attacks(before: np.ndarray, after: np.ndarray) -> dict[str, float]:
    """How the attacks of a material came out."""
    off, smear, early, louder = [], [], [], []
    for number in range(len(before) // SLOT):
        note = before[number * SLOT : (number + 1) * SLOT]
        slow = after[round(number * SLOT / SPEED) : round((number + 1) * SLOT / SPEED)]
        begin, steep = within(note, 40), within(note, 10)
        begun, found = within(slow, 40), within(slow, 10)
        due = round(begin / SPEED)
        off.append(1000 * abs(found - due - (steep - begin)) / RATE)
        smear.append(1000 * ((found - begun) - (steep - begin)) / RATE)
        early.append(power(slow[due - 1440 : due - 144]) - power(slow[found : found + 1440]))
        louder.append(peak(slow[found : found + 240]) - peak(note[steep : steep + 240]))
    return {
        "off_median_ms": round(float(np.median(off)), 2),
        "off_p95_ms": round(float(np.percentile(off, 95)), 2),
        "smear_median_ms": round(float(np.median(smear)), 2),
        "smear_p95_ms": round(float(np.percentile(np.abs(smear), 95)), 2),
        "early_db": round(float(np.median(early)), 1),
        "louder_db": round(float(np.median(louder)), 1),
    }


def within(note: np.ndarray, db: float) -> int:
    """The first sample within so many dB of the largest."""
    size = np.abs(note)
    return int(np.argmax(size >= 10 ** (-db / 20) * size.max()))


def power(sound: np.ndarray) -> float:
    """Mean power in dB, never under -120."""
    return float(10 * np.log10(max(float(np.mean(sound**2)), 1e-12)))


def peak(sound: np.ndarray) -> float:
    """Largest value in dB."""
    return float(20 * np.log10(max(float(np.abs(sound).max()), 1e-6)))


def cents(sound: np.ndarray, hz: float) -> float:
    """Error of the pitch near `hz`."""
    middle = sound[2 * RATE : -2 * RATE]
    t = np.arange(len(middle)) / RATE
    window = np.hanning(RATE // 5)
    turning = np.convolve(middle * np.exp(-2j * np.pi * hz * t), window / window.sum(), "valid")[::100]
    slope = float(np.polyfit(t[: len(turning) * 100 : 100], np.unwrap(np.angle(turning)), 1)[0])
    return abs(cents_of(1 + slope / (2 * np.pi * hz)))


def judged(before: dict[str, np.ndarray], after: dict[str, np.ndarray]) -> dict[str, Any]:
    """All figures of one way to slow down."""
    pitch = {name: cents(after[name], hz) for name, hz in ((f"tone {hz:g}", hz) for hz in PITCHES)}
    chord = max(cents(after["chord"], hz) for hz in CHORD)
    struck = {name: attacks(before[name], after[name]) for name in ("clicks", *SAMPLED)}
    return {
        "tone_cents": round(max(pitch.values()), 4),
        "chord_cents": round(chord, 4),
        "struck_off_p95_ms": max(struck[name]["off_p95_ms"] for name in STRUCK),
        "struck_smear_p95_ms": max(struck[name]["smear_p95_ms"] for name in STRUCK),
        "attacks": struck,
    }


def peers(python: str, before: dict[str, np.ndarray]) -> dict[str, Any]:
    """The same of the other libraries, which run in a Python of their own."""
    with tempfile.TemporaryDirectory() as folder:
        for name, sound in before.items():
            soundfile.write(Path(folder, f"{name}.wav"), sound, RATE, "FLOAT")
        program = str(Path(__file__).with_name("stretch_peers.py"))
        told = json.loads(subprocess.run([python, program, folder], check=True, capture_output=True, text=True).stdout)
        found: dict[str, Any] = {}
        for peer, cost in told.items():
            after = {name: soundfile.read(Path(folder, f"{name}.{peer}.wav"))[0] for name in before}
            found[peer] = {**judged(before, after), "percent_of_a_core": round(100 * cost, 2)}
    return found


def start_ms() -> float:
    """Milliseconds of this machine from opening a passage of an hour-long FLAC, at half speed, to its first sound."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder, "take.flac")
        take = FlacTake(place, "take.flac")
        minute = (np.random.default_rng(1).standard_normal(60 * RATE) * 0.05).astype(np.float32)
        for _ in range(60):
            take.write(minute)
        take.close()
        times = []
        for number in range(20):
            first = (3 + 2 * number) * 60 * RATE + 12_345
            begin = time.perf_counter()
            sound = PassageSound(Passage(first, SPEED), lambda at, count: read_flac(place, "take.flac", at, count))
            while len(sound.next()) == 0:
                pass
            times.append(1000 * (time.perf_counter() - begin))
    return round(float(np.median(times)), 1)


def main() -> None:
    """Measure and keep the figures."""
    before = materials()
    begin = time.process_time()
    after = {name: ours(sound) for name, sound in before.items()}
    cost = (time.process_time() - begin) / (sum(map(len, after.values())) / RATE)
    table = {"ours": {**judged(before, after), "percent_of_a_core": round(100 * cost, 2)}}
    if len(sys.argv) > 1:
        table |= peers(sys.argv[1], before)
    result = {
        "date": time.strftime("%Y-%m-%d"),
        "machine": f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}",
        "speed": SPEED,
        "start_of_replay_ms": start_ms(),
        "table": table,
    }
    RESULTS.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=2))  # noqa: T201 - a program tells


if __name__ == "__main__":
    main()
