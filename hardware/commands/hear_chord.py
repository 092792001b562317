"""What `keelnote hear --chord` prints: cents, level and what could be told of each degree of a held chord."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable
from dataclasses import asdict, replace
from typing import Final

from firmware.heard_events import ChordDegree, ChordHeld
from firmware.hearing.chord_check import ChordCheck
from firmware.hearing.own_stream import CleanedStream
from firmware.music.chords import shape_named
from firmware.music.harmony import Harmony
from firmware.music.words import Words
from firmware.units import RATE, Samples
from hardware.commands.naming import degree_from, words_from

HEADING: Final = "degree  note   cents  level  seconds"


def run(args: argparse.Namespace, blocks: Iterable[tuple[Samples, Samples]], harmony: Harmony) -> int:
    """Print the chord; exit code 0 even if there was none."""
    shape = shape_named(args.shape).name
    told = args.degree is not None
    if told:
        root = degree_from(words_from(args), harmony.key, args.degree) % 12
        harmony = replace(harmony, shape=shape, chord_degree=root)
    chord = longest_chord(blocks, harmony, told=told)
    print(chord_json(chord) if args.json else chord_table(chord, words_from(args), harmony.key.mode.name))
    return 0


def longest_chord(blocks: Iterable[tuple[Samples, Samples]], harmony: Harmony, *, told: bool) -> ChordHeld | None:
    """Read the chord that is held longest in a recording; None if there is none.

    Parameters
    ----------
    blocks : iterable of (Samples, Samples)
        Microphone and own sound, block by block.
    harmony : Harmony
        Key, tuning and reference, and the chord if it is told.
    told : bool
        Whether it is.
    """
    stream = CleanedStream(RATE)
    check = ChordCheck(harmony, told=told, rate=stream.rate, hop=stream.hop)
    found = [one for mic, own in blocks for hop in stream.process(mic, own) for one in check.add(hop)]
    held = [one for one in (*found, *check.finish()) if isinstance(one, ChordHeld)]
    return max(held, key=lambda one: one.seconds, default=None)


def chord_json(chord: ChordHeld | None) -> str:
    """One JSON object: the chord's name and root, when, and its degrees; all empty when no chord was held."""
    if chord is None:
        return json.dumps({"chord": None, "degree": None, "t": None, "seconds": 0.0, "degrees": []})
    degrees = []
    for one in chord.degrees:
        degree = asdict(one)
        degree["cents"] = None if one.cents is None else round(one.cents, 2)
        degrees.append(degree)
    top = {"chord": chord.chord, "degree": chord.degree, "t": round(chord.start / RATE, 3), "seconds": chord.seconds}
    return json.dumps(top | {"degrees": degrees}, ensure_ascii=False)


def chord_table(chord: ChordHeld | None, words: Words | None = None, mode: str = "major") -> str:
    """The same as a table, in the room's words."""
    words = words or Words()
    if chord is None:
        return "no chord was held for a second or more"
    degree = words.degree(chord.degree, mode)
    since = chord.start / RATE
    title = f"{words.key(chord.chord)}, on degree {degree}, held for {chord.seconds:.1f} s from {since:.1f} s"
    return "\n".join([title, HEADING, *(_row(one, words, mode) for one in chord.degrees)])


def _row(one: ChordDegree, words: Words, mode: str) -> str:
    named = f"{words.degree(one.degree, mode):<6}  {words.note(one.note):<4}  "
    return named + (one.why if one.cents is None else f"{one.cents:+6.1f}  {one.level:<5}  {one.seconds:7.1f}")
