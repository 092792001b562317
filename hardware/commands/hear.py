"""`keelnote hear`: reads the pitch of one player from a recording, as a degree of a key."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from itertools import chain, repeat
from pathlib import Path
from typing import Final

import numpy as np

from firmware.heard_events import Heard
from firmware.hearing.ear import Ear
from firmware.music.harmony import Harmony
from firmware.music.naming import name_pitch
from firmware.music.words import Words
from firmware.units import RATE, Samples
from hardware.commands import hear_catch, hear_chord, hear_level, hear_room, redo
from hardware.commands.naming import add_degrees, add_names, key_from, words_from
from hardware.drivers.sound_file import SoundFile

BLOCK: Final = 4_096
HEADING: Final = "  seconds  note  degree   cents         Hz  confidence"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote hear`."""
    parser.description = "Read the pitch of one player from a recording, named as a degree of a key."
    parser.add_argument("file", metavar="FILE", help="the microphone: WAV, FLAC and the like, any rate, mono or stereo")
    parser.add_argument("--tonic", default="C", help="tonic of the key, such as Bb, B♭, F# or F♯ (default C)")
    parser.add_argument("--mode", default="major", help="mode of the key (default major)")
    parser.add_argument("--tuning", default="just", help="tuning the cents are counted from (default just)")
    parser.add_argument("--a4", type=float, default=440.0, metavar="HZ", help="reference for A4 in Hz (default 440)")
    parser.add_argument("--own", metavar="OWN", help="recording of what the box itself played, on the same clock")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")
    parser.add_argument("--chord", action="store_true", help="read each degree of the chord that is held longest")
    parser.add_argument("--catch", action="store_true", help="tell the tonic from one long note, or the key from bars")
    parser.add_argument("--level", action="store_true", help="tell the sound level, dose, hum and clipping")
    parser.add_argument("--level-offset", type=float, metavar="DB", help="dB(A) at full scale, from a meter (--level)")
    parser.add_argument("--room", metavar="OWN", help="learn the room from a recording of the test signal OWN")
    parser.add_argument("--degree", metavar="DEGREE", help="the chord stands on this degree (with --chord; else found)")
    parser.add_argument("--shape", default="triad", help="and is this: triad, seventh or fifth (default triad)")
    parser.add_argument(
        "--notes", metavar="OUT", help="write the held notes as notes.csv; with a log beside FILE by it"
    )
    parser.add_argument("--own-at", type=float, metavar="S", help="second of OWN with which FILE begins (with --notes)")
    add_names(parser)
    add_degrees(parser)
    parser.add_argument("--all", action="store_true", help="also say where nothing was read, and why")


def run(args: argparse.Namespace) -> int:
    """Print every reading; exit code 0 even if there was none."""
    harmony = Harmony(key=key_from(args), tuning=args.tuning, a4=args.a4)
    if args.notes:
        source = redo.source_of(Path(args.file), args.own, args.own_at, (redo.harmony_event(harmony),))
        redo.write_anew(source, redo.NOTES, Path(args.notes))
        return 0
    count = shown = 0
    with SoundFile(args.file) as mic:
        if args.chord:
            return hear_chord.run(args, _blocks(mic, args.own), harmony)
        if args.level:
            return hear_level.run(args, _blocks(mic, args.own))
        if args.room:
            return hear_room.run(args, _blocks(mic, args.room))
        if args.catch:
            return hear_catch.run(args, _blocks(mic, args.own), harmony)
        for heard in _readings(mic, args.own):
            if heard.hz is None and not args.all:
                continue
            if shown == 0 and not args.json:
                print(HEADING)
            shown += 1
            count += heard.hz is not None
            print(_as_json(heard, harmony) if args.json else _as_row(heard, harmony, words_from(args)))
        _remarks(mic, count)
    return 0


def _readings(mic: SoundFile, own: str | None) -> Iterator[Heard]:
    """Readings of a whole recording."""
    ear = Ear()
    for block, beside in _blocks(mic, own):
        yield from ear.process(block, beside)


def _blocks(mic: SoundFile, own: str | None) -> Iterator[tuple[Samples, Samples]]:
    """The microphone with own sound beside it; own sound that ends early is followed by silence."""
    if own is None:
        for block in mic.blocks(BLOCK):
            yield block, np.zeros(len(block), np.float32)
        return
    with SoundFile(own) as played:
        silence = repeat(np.zeros(BLOCK, np.float32))
        for block, beside in zip(mic.blocks(BLOCK), chain(played.blocks(BLOCK), silence), strict=False):
            yield block, _fitted(beside, len(block))


def _fitted(block: Samples, length: int) -> Samples:
    """Return the block cut or filled with silence to a length."""
    whole = np.zeros(length, np.float32)
    shared = min(length, len(block))
    whole[:shared] = block[:shared]
    return whole


def _as_json(heard: Heard, harmony: Harmony) -> str:
    line: dict[str, float | str | None] = {"t": round(heard.at / RATE, 4)}
    if heard.hz is None:
        line |= {"hz": None, "note": None, "degree": None, "cents": None, "confidence": 0.0}
        line |= {"spread": None, "why": heard.why}
    else:
        named = name_pitch(heard.hz, harmony)
        line |= {
            "hz": round(heard.hz, 4),
            "note": named.note.text,
            "degree": named.degree,
            "cents": round(named.cents, 3),
            "confidence": round(heard.confidence, 4),
            "spread": None if heard.spread is None else round(heard.spread, 2),
        }
    return json.dumps(line, ensure_ascii=False)


def _as_row(heard: Heard, harmony: Harmony, words: Words) -> str:
    seconds = heard.at / RATE
    if heard.hz is None:
        return f"{seconds:9.2f}  {heard.why}"
    named = name_pitch(heard.hz, harmony)
    return (
        f"{seconds:9.2f}  {words.note(named.note.text):<4}  {words.degree(named.degree, harmony.key.mode.name):<6}"
        f"  {named.cents:+6.1f}  {heard.hz:9.3f}  {heard.confidence:10.2f}"
    )


def _remarks(mic: SoundFile, count: int) -> None:
    """Say on standard error what a reader of the lines could not see from them."""
    if mic.bad_samples:
        print(f"{mic.path}: {mic.bad_samples} samples were not numbers and were read as 0", file=sys.stderr)
    if mic.cut_short:
        print(f"{mic.path}: the file is cut short; what could be read was read", file=sys.stderr)
    if not count:
        print(f"{mic.path}: no pitch could be read", file=sys.stderr)
