"""How often and how rightly a player is read while the box clicks or replays: `python -m tests.speed.own_beside`.

A player sounds notes of 1.4 s with rests of 0.6 s, RT60 0.8 s, while the box clicks at 92, clicks over a drone, or
replays a melody with vibrato (`tests/speed/own_scenes.py`); notes of player and melody come from the same two octaves.
Own sound is as much louder than the player as the row says: a replay by its RMS at the microphone, a click by its
loudest 40 ms, drone and all. With a room check, with one after which a share of the room's tail has become another,
and without one. Counted are hops whose window the player fills: how many are read, how many of these are off by more
than 50 cents, and how exact the others are. Of the hops in which he rests, and the room has had 0.35 s to be quiet,
none may be read.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np
from scipy.signal import fftconvolve

from firmware.hearing.ear import Ear
from firmware.sound.engine import Engine
from firmware.sound.snapshot import PulseSound, Sound
from firmware.units import RATE, cents_of, gain_of, samples_of
from tests.speed import own_scenes as scenes
from tests.speed.box import machine

RESULTS: Final = Path(__file__).parent / "results" / "own_beside.json"
SECONDS: Final = 14.0
BEGINS: Final = 2.5
NOTE: Final = 1.4
REST: Final = 0.6
RT60: Final = 0.8
GROSS_CENTS: Final = 50.0
WINDOW: Final = 0.17
"""Seconds from the begin of a note until it has filled the ear's longest window; half of it lies before the centre."""

QUIET: Final = 0.35
"""Seconds after a note in which what still rings of it may be read."""

OVERS: Final = (6.0, 0.0, -6.0)
KINDS: Final = ("click", "click over a drone", "replay")
ROOT: Final = 116.54

CHECKS: Final[dict[str, float | None]] = {
    "room check": 0.0,
    "room check, 10 % of the tail moved since": 0.1,
    "room check, 30 % of the tail moved since": 0.3,
    "no room check": None,
}
"""Share of the tail's amplitude that has become another since the room check, None for none."""


@dataclass(slots=True)
class Tally:
    """What came of the hops of one row."""

    asked: int = 0
    off: list[float] = field(default_factory=list)
    alone: int = 0
    read_alone: int = 0

    def row(self) -> dict[str, float | None]:
        """The figures; None where nothing was read."""
        off = np.abs(self.off)
        right = off[off <= GROSS_CENTS]
        return {
            "read_percent": round(100 * len(off) / max(1, self.asked), 1),
            "median_cents": round(float(np.median(right)), 3) if len(right) else None,
            "p95_cents": round(float(np.quantile(right, 0.95)), 3) if len(right) else None,
            "gross_percent": round(100 * float((off > GROSS_CENTS).mean()), 2) if len(off) else None,
            "read_while_he_rests": self.read_alone,
            "hops_while_he_rests": self.alone,
        }


def own_sound(kind: str, seed: int) -> np.ndarray:
    """What the box plays: a second of nothing, then its sound until a second before the end."""
    generator = np.random.default_rng([seed, 3])
    engine = Engine()
    lead = scenes.played((Sound(), 1.0), engine=engine)
    length = SECONDS - 2.0
    if kind == "replay":
        part = scenes.a_take(length, generator).astype(np.float32)
        return np.concatenate([lead, part, np.zeros(RATE, np.float32)])
    pulse = PulseSound(on=True, start=engine.position + 4800, run=1, level_db=-12.0)
    root = ROOT * 2 ** (generator.integers(-5, 7) / 12)
    drone = scenes.drone(root, 2 * root).drone if kind == "click over a drone" else Sound().drone
    return np.concatenate(
        [lead, scenes.played((Sound(drone=drone, pulse=pulse), length), (Sound(), 1.0), engine=engine)]
    )


def melody(seed: int) -> Iterator[tuple[float, float, np.ndarray]]:
    """Begin, pitch and sound of the notes of the player, each at his level 1."""
    generator = np.random.default_rng([seed, 4])
    begin = BEGINS
    while begin + NOTE < SECONDS:
        hz = 110.0 * 2 ** ((generator.integers(0, 24) + generator.uniform(-0.2, 0.2)) / 12)
        yield begin, hz, scenes.synthetic(hz, NOTE, generator)
        begin += NOTE + REST


def loudness(heard: np.ndarray, kind: str) -> float:
    """RMS of own sound at the microphone: of its loudest 40 ms for a click, of all of it else."""
    sounding = heard[RATE + RATE // 2 : -RATE - RATE // 2]
    if kind == "replay":
        return float(sounding.std())
    hops = sounding[: len(sounding) // 1920 * 1920].reshape(-1, 1920)
    power = np.sort((hops**2).mean(axis=1))
    return float(np.sqrt(power[-len(power) // 50 :].mean()))


def listen(tally: Tally, kind: str, over: float, seed: int, moved: float | None) -> None:
    """One run of one row."""
    learned = scenes.tail_place(RT60, seed % 3)
    place = replace(learned, box=scenes.moved_on(learned, scenes.tail_place(RT60, seed % 3 + 50), moved or 0.0))
    own = own_sound(kind, seed)
    at_mic = fftconvolve(own, place.box)[: len(own)]
    level = loudness(at_mic, kind) * gain_of(-over)
    notes = list(melody(seed))
    players = np.zeros(len(own))
    for begin, _, sound in notes:
        first = samples_of(begin)
        players[first : first + len(sound)] += sound[: len(own) - first]
    players = fftconvolve(players, place.player)[: len(own)]
    sounding = np.concatenate([players[samples_of(b + 0.3) : samples_of(b + NOTE - 0.1)] for b, _, _ in notes])
    mic = place.mic(own, players * level / sounding.std(), seed)[0]
    ear = Ear()
    if moved is not None:
        ear.learn(replace(scenes.room_of(learned, seed), since=0))
    for _, (heard, played) in scenes.blocks_of(mic, own):
        for reading in ear.process(heard, played):
            count(tally, notes, reading.at / RATE, reading.hz)


def count(tally: Tally, notes: list[tuple[float, float, np.ndarray]], at: float, hz: float | None) -> None:
    """Count a hop by what the player does in it."""
    for begin, truth, _ in notes:
        if begin + WINDOW / 2 + 0.05 < at < begin + NOTE - WINDOW / 2 - 0.05:
            tally.asked += 1
            if hz is not None:
                tally.off.append(cents_of(hz / truth))
            return
        if begin - WINDOW / 2 - 0.05 < at < begin + NOTE + QUIET:
            return
    tally.alone += 1
    tally.read_alone += hz is not None


def main() -> None:
    """Measure, print and keep."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    table: dict[str, dict[str, dict[str, float | None]]] = {}
    for name, moved in CHECKS.items():
        table[name] = {}
        for kind in KINDS:
            for over in OVERS:
                tally = Tally()
                for seed in range(runs):
                    listen(tally, kind, over, seed, moved)
                table[name][f"{kind}, {over:+g} dB"] = row = tally.row()
                sys.stdout.write(f"{name}, {kind}, {over:+g} dB: {row}\n")
                sys.stdout.flush()
    result = {"machine": machine(), "date": time.strftime("%Y-%m-%d"), "runs": runs, "table": table}
    RESULTS.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
