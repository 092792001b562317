"""What stays in chorales: `python -m tests.speed.moving [chorales]` writes tests/speed/results/moving.json.

The chords of Bach's chorales (the corpus of music21, chordified) are tuned one after the other by each of the three
choices. A chord is what is exactly one kind of chord of our table; what lies between, with passing notes, is left out.
For each: by how many cents the intervals inside the chords are off from just, by how much a tone that two chords in a
row share is moved, and how far the key has drifted at the end. Beside them the same chords in equal temperament and on
the fixed just scale of the key, which have no choice. And the time that tuning takes: a ten-note chord, and a chord.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from itertools import combinations
from pathlib import Path
from typing import Any, Final

import numpy as np
from music21 import corpus

from firmware.music.harmony import Harmony, intervals_of
from firmware.music.keys import key_of
from firmware.music.moving.choices import CHOICES, TunedChord, in_key, tune
from firmware.music.moving.recognise import recognised
from firmware.music.moving.settle import settled
from firmware.music.moving.symbols import ChordSymbol
from tests.speed.box import machine

RESULTS: Final = Path(__file__).parent / "results" / "moving.json"
ROUNDS: Final = 2000

Piece = tuple[Harmony, list[ChordSymbol], int]
"""The key of a chorale, its chords, and how many of its sonorities are none."""


def chorales(most: int) -> Iterator[Piece]:
    """Read chorales in the key of their signature, major or minor by their last bass note."""
    for chorale in corpus.chorales.Iterator(returnType="stream"):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # music21 speaks of its own corpus
            sonorities = [
                [p.midi for p in chord.pitches] for chord in chorale.chordify().flatten().getElementsByClass("Chord")
            ]
        signature = next(iter(chorale.flatten().getElementsByClass("KeySignature")), None)
        if signature is None or not sonorities:
            continue
        major, minor = (signature.asKey(mode).tonic.pitchClass for mode in ("major", "minor"))
        last = min(sonorities[-1]) % 12
        if last not in (major, minor):
            continue
        mode = "major" if last == major else "minor"
        tonic = signature.asKey(mode).tonic.name.replace("-", "b")
        found = [recognised(note - last for note in notes) for notes in sonorities]
        yield Harmony(key_of(tonic, mode)), [chord for chord in found if chord], sum(chord is None for chord in found)
        most -= 1
        if not most:
            return


def off(cents: dict[int, float], symbol: ChordSymbol) -> list[float]:
    """Cents by which each interval inside a chord is off from just."""
    just = {semitones: interval.cents for semitones, interval in symbol.members}
    return [
        abs((cents[a] - cents[b] - (just[a] - just[b]) + 600) % 1200 - 600) for a, b in combinations(sorted(just), 2)
    ]


def by_choice(name: str, pieces: list[Piece]) -> dict[str, float]:
    """Tune all chorales by one choice."""
    choice = next(choice for choice in CHOICES if choice.name == name)
    intervals: list[float] = []
    moves: list[float] = []
    ends: list[float] = []
    widest = 0.0
    for harmony, chords, _ in pieces:
        before: TunedChord | None = None
        for symbol in chords:
            now = tune(symbol, harmony, choice, before)
            intervals += off({n: interval.cents for n, interval in now.tones.items()}, symbol)
            if before is not None:
                shared = now.tones.keys() & before.tones.keys()
                moves += [abs(now.tones[n].cents - before.tones[n].cents) for n in shared]
            widest = max(widest, abs(now.drift))
            before = now
        if before is not None:
            home = in_key(before.symbol, harmony)
            ends.append(abs(before.tones[before.symbol.root].cents - home[before.symbol.root].cents))
    return {
        "off_just_mean_cents": round(statistics.fmean(intervals), 3),
        "off_just_p95_cents": round(float(np.percentile(intervals, 95)), 3),
        "common_tone_moves_mean_cents": round(statistics.fmean(moves), 2),
        "common_tone_moves_p95_cents": round(float(np.percentile(moves, 95)), 2),
        "drift_at_end_mean_cents": round(statistics.fmean(ends), 2),
        "drift_at_end_worst_cents": round(max(ends), 1),
        "drift_widest_cents": round(widest, 1),
    }


def fixed(pieces: list[Piece], scale: Callable[[Harmony], list[float]]) -> dict[str, float]:
    """Sound the chords on twelve fixed tones."""
    intervals: list[float] = []
    for harmony, chords, _ in pieces:
        tones = dict(enumerate(scale(harmony)))
        intervals += [cents for symbol in chords for cents in off(tones, symbol)]
    return {
        "off_just_mean_cents": round(statistics.fmean(intervals), 3),
        "off_just_p95_cents": round(float(np.percentile(intervals, 95)), 3),
    }


def cost(pieces: list[Piece]) -> dict[str, float]:
    """Milliseconds of CPU: ten notes by least squares, and a whole chord of a chorale by least motion."""
    just = np.linspace(0.0, 50.0, 10)
    begun = time.process_time()
    for _ in range(ROUNDS):
        settled(just, [1.0] * 10, [0.0] * 10)
    ten = (time.process_time() - begun) / ROUNDS
    harmony, chords, _ = pieces[0]
    before: TunedChord | None = None
    begun = time.process_time()
    for symbol in chords:
        before = tune(symbol, harmony, CHOICES[-1], before)
    return {
        "ten_notes_ms": round(1000 * ten, 4),
        "chord_ms": round(1000 * (time.process_time() - begun) / len(chords), 3),
    }


def measured(most: int) -> dict[str, Any]:
    """Everything."""
    pieces = list(chorales(most))
    chords, others = sum(len(piece[1]) for piece in pieces), sum(piece[2] for piece in pieces)
    return {
        "machine": machine(),
        "date": datetime.now(UTC).date().isoformat(),
        "chorales": len(pieces),
        "chords": chords,
        "sonorities_that_are_no_chord": others,
        "choices": {choice.name: by_choice(choice.name, pieces) for choice in CHOICES},
        "equal temperament": fixed(pieces, lambda _: [100.0 * n for n in range(12)]),
        "fixed just scale": fixed(pieces, lambda harmony: [i.cents for i in intervals_of(harmony, *range(12))]),
        "cost": cost(pieces),
    }


if __name__ == "__main__":
    result = measured(int(sys.argv[1]) if len(sys.argv) > 1 else -1)
    RESULTS.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=2))  # noqa: T201 - a program at the terminal
