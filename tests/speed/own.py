"""How exactly a player is read through the box's own sound: `python -m tests.speed.own [offsets]` writes one table.

A player is at unison with a tone of the box's drone (root, its octave and the twelfth, timbre `reed`), off by 0.3 to 20
cents, and as much softer or louder as the cell says (RMS at the microphone). Rooms are `tests/speed/own_scenes.py`.

- *steady*: no room check; the drone has sounded alone for 3.4 s, then the player comes in.
- *after a change*: after a room check; the player comes in 0.1 s after the chord has changed, and what is read from
  then to 1.1 s after the change counts, less the first 0.15 s, in which his own onset fills the window.

Added error is the difference to what the same ear reads of the same player, room and noise without own sound. What the
ear refuses to read is counted, too. Sampled players are those of `tests/speed/pitch_samples.py` (FluidR3); the drone is
tuned to be the offset away from the pitch that is read of each alone.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np
from scipy.signal import fftconvolve

from firmware.hearing.ear import Ear
from firmware.hearing.room import Room
from firmware.units import RATE, cents_of, gain_of, samples_of
from tests.speed import own_scenes as scenes
from tests.speed.box import machine
from tests.speed.own_scenes import Place

RESULTS: Final = Path(__file__).parent / "results" / "own.json"
OFFSETS: Final = (0.3, 1.0, 3.0, 6.0, 12.0, 20.0)
RT60S: Final = (0.4, 0.8, 1.2)
OVERS: Final = (-6.0, 0.0, 6.0)
CHORD: Final = (1.0, 2.0, 3.0)

Sounds = Callable[[float, float, np.random.Generator], np.ndarray]


@dataclass(slots=True)
class Tally:
    """What came of the readings of one row."""

    added: list[float] = field(default_factory=list)
    off: list[float] = field(default_factory=list)
    least: list[float] = field(default_factory=list)
    asked: int = 0

    def row(self) -> dict[str, float | None]:
        """The figures; None where nothing was read."""
        added = np.abs(self.added)
        return {
            "read_percent": round(100 * len(self.off) / max(1, self.asked), 1),
            "added_median_cents": round(float(np.median(added)), 4) if len(added) else None,
            "added_p95_cents": round(float(np.quantile(added, 0.95)), 4) if len(added) else None,
            "error_p95_cents": round(float(np.quantile(np.abs(self.off), 0.95)), 4) if self.off else None,
            "offset_of_0.3_read_as": round(float(np.median(self.least)), 3) if self.least else None,
        }


@dataclass(frozen=True, slots=True)
class Case:
    """One way of listening: with what room check, if any, and what disturbs."""

    over: float
    room: Room | None = None
    bends: float = 0.0
    extra: float | None = None
    moved: np.ndarray | None = None


def listen(tally: Tally, place: Place, case: Case, off: float, seed: int, sound: np.ndarray | None = None) -> None:
    """One player, `off` cents from the drone; a sampled one if there is `sound`, to which the drone is then tuned."""
    generator = np.random.default_rng([seed, 5])
    changed = case.room is not None
    begins = 1.6 if changed else 3.4
    upper = float(2 * 116.54 * 2 ** (generator.integers(-6, 7) / 12))
    hz = upper * 2 ** (off / 1200)
    note = scenes.synthetic(hz, 1.5, generator) if sound is None else sound
    if sound is not None:
        hz = pitch_of(place, note, seed)
        upper = hz * 2 ** (-off / 1200)
    root = upper / 2
    before = root * 2 ** (5 / 12)
    chords = [[(before if changed and not number else root) * ratio for ratio in CHORD] for number in range(2)]
    own = scenes.played((scenes.drone(*chords[0]), 1.5 if changed else 3.4), (scenes.drone(*chords[1]), 1.7))
    if place.ppm:
        # The check began a second after its stream, at which its delay holds; clocks apart count from there.
        own, begins = np.concatenate([np.zeros(RATE, np.float32), own]), begins + 1.0
    players = np.zeros(len(own))
    first = samples_of(begins)
    players[first : first + len(note)] = note[: len(own) - first]
    players = fftconvolve(players, place.player)[: len(own)]
    heard = scenes.bent(own, case.bends)
    box = replace(place, box=case.moved) if case.moved is not None else place
    loud = fftconvolve(heard, box.box)[: len(own)][-RATE:].std()
    players *= loud * gain_of(-case.over) / players[first + RATE // 2 :].std()
    if case.extra is not None:
        players += scenes.murmur(len(own) / RATE, case.extra, generator)
    mic, alone = box.mic(heard, players, seed)
    room = case.room if case.room is None or place.ppm else replace(case.room, since=0)
    with_own, without = readings(mic, own, room), readings(alone, np.zeros_like(own), None)
    span = (begins + 0.15) * RATE, (begins + 1.0 if changed else begins + 1.4) * RATE
    for at, value in with_own.items():
        if not span[0] < at < span[1]:
            continue
        tally.asked += 1
        if value is None:
            continue
        tally.off.append(cents_of(value / hz))
        plain = without.get(at)
        if plain is not None:
            tally.added.append(cents_of(value / plain))
        if abs(off) == min(OFFSETS):
            tally.least.append(np.sign(off) * cents_of(value / upper))


def pitch_of(place: Place, note: np.ndarray, seed: int) -> float:
    """What is read of a sampled player alone, in his room; the median."""
    alone = fftconvolve(note, place.player)[: len(note)] * 0.1 / note.std()
    found = readings(alone + 1e-4 * np.random.default_rng(seed).standard_normal(len(alone)), np.zeros(len(alone)), None)
    return float(np.median([value for value in list(found.values())[8:] if value is not None]))


def readings(mic: np.ndarray, own: np.ndarray, room: Room | None) -> dict[int, float | None]:
    """What an ear reads, by the centre of its window."""
    ear = Ear()
    learned = room is None
    found: dict[int, float | None] = {}
    for at, (heard, played) in scenes.blocks_of(mic, own):
        if room is not None and not learned and at >= room.since:
            ear.learn(room)
            learned = True
        found |= {one.at: one.hz for one in ear.process(heard, played)}
    return found


def offsets(count: int) -> list[float]:
    """Offsets that are asked for, sharp and flat in turn."""
    step = len(OFFSETS)
    return [OFFSETS[number % step] * (1 if (number + number // step) % 2 else -1) for number in range(count)]


def unison(count: int, *, checked: bool) -> dict[str, dict[str, float | None]]:
    """Synthetic players in rooms of three reverberation times, the drone at three levels over them."""
    table = {}
    for rt60 in RT60S:
        for over in OVERS:
            tally = Tally()
            for seed, off in enumerate(offsets(count)):
                place = scenes.tail_place(rt60, seed % 3)
                room = known(rt60, seed % 3) if checked else None
                listen(tally, place, Case(over, room), off, seed)
            table[f"RT60 {rt60:g} s, drone {over:+g} dB"] = tally.row()
    return table


ROOMS: dict[tuple[float, int], Room] = {}


def known(rt60: float, seed: int) -> Room:
    """The room check of a plain room, made once."""
    if (rt60, seed) not in ROOMS:
        ROOMS[rt60, seed] = scenes.room_of(scenes.tail_place(rt60, seed), seed)
    return ROOMS[rt60, seed]


LEFT_OUT: Final = ("error_p95_cents", "offset_of_0.3_read_as")
"""A sampled player moves about the pitch that is read of him by some cents, so these say nothing of the ear."""


def sampled(*, checked: bool) -> dict[str, dict[str, float | None]]:
    """Every second one of sixteen sampled instruments, a key of each, RT60 0.8 s."""
    from tests.speed.pitch_samples import rendered  # noqa: PLC0415 - it needs FluidSynth, the rest does not

    notes = rendered()[1::6]
    table = {}
    for over in OVERS:
        tally = Tally()
        for seed, (note, off) in enumerate(zip(notes, offsets(len(notes)), strict=True)):
            place = scenes.tail_place(0.8, seed % 3)
            sound = note.sounds[0][: samples_of(1.5)]
            listen(tally, place, Case(over, known(0.8, seed % 3) if checked else None), off, seed, sound)
        row = tally.row()
        table[f"RT60 0.8 s, drone {over:+g} dB"] = {key: row[key] for key in row if key not in LEFT_OUT}
    return table


def disturbed(count: int) -> dict[str, dict[str, dict[str, float | None]]]:
    """What each disturbance costs, RT60 0.8 s, the drone 6 dB over the player: steady, and after a change."""
    table: dict[str, dict[str, dict[str, float | None]]] = {}
    for kind in KINDS:
        both = {}
        for checked in (False, True):
            tally = Tally()
            for seed, off in enumerate(offsets(count)):
                place, case = KINDS[kind](seed % 3, checked)
                listen(tally, place, case, off, seed)
            both["after a change" if checked else "steady"] = tally.row()
        table[kind] = both
        sys.stdout.write(f"{kind}: {both}\n")
        sys.stdout.flush()
    return table


def _of(place: Place, seed: int, *, checked: bool, during: float | None = None, **how: float) -> tuple[Place, Case]:
    generator = np.random.default_rng(seed)
    murmur = None if during is None else scenes.murmur(scenes.CHECK_SECONDS, during, generator)
    room = scenes.room_of(place, seed, changed=murmur, bends=how.get("bends", 0.0)) if checked else None
    return place, Case(6.0, room, bends=how.get("bends", 0.0), extra=how.get("extra"))


def _moved(seed: int, *, checked: bool, share: float) -> tuple[Place, Case]:
    """A room of which a share of the tail's amplitude has become another since the check."""
    place = scenes.tail_place(0.8, seed)
    box = scenes.moved_on(place, scenes.tail_place(0.8, seed + 50), share)
    return place, Case(6.0, known(0.8, seed) if checked else None, moved=box)


KINDS: Final[dict[str, Callable[[int, bool], tuple[Place, Case]]]] = {
    "none": lambda s, c: _of(scenes.tail_place(0.8, s), s, checked=c),
    "shoebox by image sources": lambda s, c: _of(scenes.image_place(0.8, s), s, checked=c),
    "clocks 100 ppm apart": lambda s, c: _of(scenes.tail_place(0.8, s, ppm=100.0), s, checked=c),
    "noise at -50 dB": lambda s, c: _of(scenes.tail_place(0.8, s, noise_db=-50.0), s, checked=c),
    "room moved, 3 % of the tail": lambda s, c: _moved(s, checked=c, share=0.03),
    "room moved, 10 % of the tail": lambda s, c: _moved(s, checked=c, share=0.1),
    "room moved, 30 % of the tail": lambda s, c: _moved(s, checked=c, share=0.3),
    "PA clips softly, 1 % third harmonic": lambda s, c: _of(scenes.tail_place(0.8, s), s, checked=c, bends=2.8),
    "PA clips softly, 4 % third harmonic": lambda s, c: _of(scenes.tail_place(0.8, s), s, checked=c, bends=5.8),
    "band murmurs at -50 dB during check": lambda s, c: _of(scenes.tail_place(0.8, s), s, checked=c, during=-50.0),
    "band murmurs at -50 dB, check and after": lambda s, c: _of(
        scenes.tail_place(0.8, s), s, checked=c, during=-50.0, extra=-50.0
    ),
}


def main() -> None:
    """Measure, print and keep."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    parts: dict[str, Callable[[], object]] = {
        "after_a_change": lambda: unison(count, checked=True),
        "steady": lambda: unison(count, checked=False),
        "after_a_change_sampled": lambda: sampled(checked=True),
        "steady_sampled": lambda: sampled(checked=False),
        "disturbed": lambda: disturbed(max(2, count // 2)),
    }
    result: dict[str, object] = {"machine": machine(), "date": time.strftime("%Y-%m-%d")}
    for name, measure in parts.items():
        result[name] = measure()
        sys.stdout.write(f"{name}: {json.dumps(result[name])}\n")
        sys.stdout.flush()
        RESULTS.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
