"""Nobody plays for an hour: `python -m tests.speed.own_alone [minutes]` counts what is read all the same.

The box plays drones, changes them, clicks, replays takes with players in them and answers; its loudspeaker stands in a
room that changes slowly (every minute a tenth of the tail's amplitude is another), with noise at the microphone. Once
with a room check at the beginning, once without, both for the whole time; for a sixth of it in a room that rings for
longer, and on two clocks 100 parts in a million apart. Not one reading may come. What is read without knowing own sound
shows that the check can fail.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any, Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np
from scipy.signal import fftconvolve

from firmware.hearing.ear import Ear
from firmware.hearing.room_clock import on_other_clock
from firmware.units import RATE, gain_of
from hardware.simulated.room import pink_noise, response
from tests.speed.box import machine
from tests.speed.own_scenes import LATE, WAY_DB, blocks_of, box_alone, check_sound, room_of, tail_place

RESULTS: Final = Path(__file__).parent / "results" / "own_alone.json"
PART: Final = 1 / 6
SHARE: Final = 0.1
"""Share of the tail's amplitude that changes in a minute."""


def ways(rt60: float, minutes: float, seed: int, moves: float) -> list[np.ndarray]:
    """The way of own sound at every full minute: tails whose amplitudes wander."""
    generator = np.random.default_rng([seed, 7])
    place = tail_place(rt60, seed)
    here, all_ways = place.box, [place.box]
    for _ in range(int(np.ceil(minutes)) + 1):
        other = response(rt60, LATE, -3.0, generator).astype(np.float64) * gain_of(WAY_DB)
        moved = np.sqrt(1 - moves**2) * here + moves * other
        moved[LATE] = here[LATE]
        here = moved
        all_ways.append(here)
    return all_ways


def alone(
    minutes: float, seed: int, *, rt60: float, checked: bool, ppm: float = 0.0, moves: float = SHARE
) -> Counter[str]:
    """How many hops ended how: "read", or why not."""
    rooms = ways(rt60, minutes, seed, moves)
    noise = pink_noise(1 << 19, -66.0, np.random.default_rng(seed))
    ear, counted, deaf = Ear(), Counter[str](), Ear()
    parts = [check_sound(), *box_alone(60 * minutes, seed)] if checked else list(box_alone(60 * minutes, seed))
    own = np.concatenate(parts)
    mic = np.zeros(len(own))
    minute = 60 * RATE
    fade = np.linspace(0.0, 1.0, minute)
    for number, first in enumerate(range(0, len(own), minute)):
        # Two rooms, the one fading into the other, with what rings over from the minute before.
        begin = max(0, first - round(1.3 * rt60 * RATE) - LATE)
        stretch = own[begin : first + minute].astype(np.float64)
        here, there = (fftconvolve(stretch, way)[first - begin : len(stretch)] for way in rooms[number : number + 2])
        mic[first : first + minute] = here + fade[: len(here)] * (there - here)
    if ppm:
        mic = on_other_clock(mic, -ppm)
    mic += np.resize(noise, len(mic))
    learned = not checked
    for at, (heard, played) in blocks_of(mic, own):
        if not learned and at >= len(parts[0]):
            ear.learn(room_of(tail_place(rt60, seed, ppm=ppm), seed))
            learned = True
        for reading in ear.process(heard, played):
            counted["read" if reading.hz is not None else reading.why] += 1
            if reading.hz is not None:
                sys.stderr.write(f"read {reading.hz:.2f} Hz at {reading.at / RATE:.2f} s\n")
        if at < minute:
            counted["read without own sound"] += sum(
                reading.hz is not None for reading in deaf.process(heard, np.zeros_like(played))
            )
    return counted


CASES: Final[dict[str, dict[str, Any]]] = {
    "room check": {"rt60": 0.8, "checked": True},
    "no room check": {"rt60": 0.8, "checked": False},
    "room check, RT60 1.2 s": {"rt60": 1.2, "checked": True},
    "room check, two clocks 100 ppm apart": {"rt60": 0.6, "checked": True, "ppm": 100.0},
}

PARTS: Final = {"room check, RT60 1.2 s": PART, "room check, two clocks 100 ppm apart": PART}
"""Of the minutes asked for, where not all of them."""


def measured(name: str, minutes: float) -> dict[str, float]:
    """One case, in a process of its own."""
    begin = time.process_time()
    long = minutes * PARTS.get(name, 1.0)
    row: dict[str, float] = {"minutes": long, "read": 0, **alone(long, 11 + list(CASES).index(name), **CASES[name])}
    row["times_real_time"] = round(60 * long / (time.process_time() - begin), 1)
    sys.stdout.write(f"{name}: {row}\n")
    sys.stdout.flush()
    return row


def main() -> None:
    """Measure, print and keep."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    cases: dict[str, dict[str, float]] = {}
    with ProcessPoolExecutor(len(CASES)) as pool:
        begun = {pool.submit(measured, name, minutes): name for name in CASES}
        for done in as_completed(begun):
            cases[begun[done]] = done.result()
            result = {"machine": machine(), "date": time.strftime("%Y-%m-%d"), "cases": cases}
            RESULTS.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
