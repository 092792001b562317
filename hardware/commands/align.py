"""`keelnote align`: how early or late the players of a recording are against a pulse."""

from __future__ import annotations

import argparse
import json
import re
import statistics
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from fractions import Fraction
from itertools import islice
from pathlib import Path
from typing import Any, Final

import numpy as np

from firmware.errors import OutOfRangeError
from firmware.events import PulseChanged
from firmware.heard_events import Onset
from firmware.hearing.alignment import Aligned, Figures, Spread, align, figures
from firmware.hearing.alignment_grid import DIVISIONS
from firmware.hearing.onsets import Onsets
from firmware.hearing.onsets_attack import attack_of
from firmware.music.lateness import beat_text, paced, placed
from firmware.music.meter import parse_bars
from firmware.music.moves import TEMPO_RANGE, parse_moves
from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.units import RATE, Samples
from hardware.commands import redo
from hardware.drivers.sound_file import SoundFile

BLOCK: Final = 4_096
TAIL_BLOCKS: Final = 12
"""Blocks of silence after the end, about a second, so that the last onsets become certain."""

LONGEST: Final = 100_000.0
"""Seconds within which bar 1 may begin."""

FIRST_STROKE_SECONDS: Final = 60
"""What the box played first is looked for in so much of what it played."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote align`."""
    parser.description = (
        "Tell how early or late each note of a recording is against a pulse. A note's onset is where it reaches a "
        "third of the largest value of the 80 ms that follow. What the box played is taken out first; the time that it "
        "takes through sound card, loudspeaker and air is found and taken off."
    )
    parser.add_argument("file", metavar="FILE", help="the microphone: WAV, FLAC and the like, any rate, mono or stereo")
    parser.add_argument("--tempo", type=float, help="beats per minute, 20 to 300 (may be left out with --timing)")
    parser.add_argument("--meter", default="4/4", help='meter or list of bars, such as 2+2+3/8 or "4/4x3 3/4"')
    parser.add_argument("--start", type=float, metavar="S", help="second at which bar 1 begins (default: see --own)")
    parser.add_argument(
        "--own", metavar="OWN", help="what the box played, on the same clock; bar 1 is its first stroke"
    )
    parser.add_argument("--ramp", default="", metavar="MOVES", help='tempo moves, such as "60->120 over 16 beats"')
    parser.add_argument("--silent", default="", metavar="N+M", help="N bars are heard, M bars silent, and so on")
    parser.add_argument("--division", type=int, choices=DIVISIONS, help="parts of a beat (default: the notes say)")
    parser.add_argument("--timing", metavar="OUT", help="write timing.csv, by the pulse of the log beside FILE")
    parser.add_argument(
        "--own-at", type=float, metavar="S", help="second of OWN with which FILE begins (with --timing)"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")


def run(args: argparse.Namespace) -> int:
    """Print every onset and what they come to; exit code 0 even if there was none."""
    if args.timing:
        source = redo.source_of(Path(args.file), args.own, args.own_at, _given(args))
        redo.write_anew(source, redo.TIMING_FILE, Path(args.timing))
        return 0
    program = program_of(args)
    onsets = heard(args.file, args.own)
    start = args.start
    if start is None:
        start = 0.0 if args.own is None else first_stroke(args.own)
    late = round(statistics.median([onset.late for onset in onsets])) if onsets else 0
    times = [(onset.at - late) / RATE - start for onset in onsets]
    aligned = align(times, program, args.division)
    result = figures(aligned)
    offset = start + late / RATE
    print(_as_json(aligned, result, offset) if args.json else "\n".join(_as_table(aligned, result, offset)))
    if not aligned:
        print(f"{args.file}: no onset was heard", file=sys.stderr)
    return 0


def _given(args: argparse.Namespace) -> tuple[PulseChanged, ...]:
    """The pulse that the arguments ask for, if they do."""
    return () if args.tempo is None else (PulseChanged(0, 1, program_of(args), (args.start or 0.0) * RATE),)


def program_of(args: argparse.Namespace) -> Program:
    """Make the pulse that the arguments ask for; raises OutOfRangeError."""
    if args.tempo is None or not TEMPO_RANGE[0] <= args.tempo <= TEMPO_RANGE[1]:
        raise OutOfRangeError("--tempo", args.tempo, f"{TEMPO_RANGE[0]:g} to {TEMPO_RANGE[1]:g} beats per minute")
    if args.start is not None and not abs(args.start) < LONGEST:
        raise OutOfRangeError("--start", args.start, f"a second of the recording, within {LONGEST:g}")
    bars = parse_bars(args.meter)
    unit = bars.runs[0][1].beat
    moves = parse_moves(args.ramp, bars, unit, args.tempo) if args.ramp else ()
    heard_bars, silent_bars = silent_of(args.silent)
    return Program(
        bars=bars, curve=Curve(args.tempo * float(unit), moves), unit=unit, heard=heard_bars, silent=silent_bars
    )


def silent_of(text: str) -> tuple[int, int]:
    """Bars heard and silent, as written: 2+2; raises OutOfRangeError."""
    if not text:
        return 0, 0
    match = re.fullmatch(r"([1-9][0-9]?)\+([1-9][0-9]?)", text)
    if match is None:
        raise OutOfRangeError("--silent", text, "bars heard and bars silent, such as 2+2")
    return int(match[1]), int(match[2])


def heard(file: str, own: str | None) -> tuple[Onset, ...]:
    """Onsets of a whole recording. With own sound it is heard twice: first to learn the path, then to take it out."""
    onsets = Onsets()
    found = _onsets(onsets, file, own)
    return found if own is None else _onsets(Onsets(path=onsets.path.again()), file, own)


def first_stroke(own: str) -> float:
    """Second at which what the box played begins."""
    with SoundFile(own) as played:
        block = np.concatenate(list(islice(played.blocks(RATE), FIRST_STROKE_SECONDS)))
    return attack_of(block.astype(np.float64), RATE) / RATE


def _onsets(onsets: Onsets, file: str, own: str | None) -> tuple[Onset, ...]:
    """Onsets of a recording; own sound that ends early is followed by silence."""
    silence = np.zeros(BLOCK, np.float32)
    found: list[Onset] = []
    length = 0
    with ExitStack() as stack:
        mic = stack.enter_context(SoundFile(file))
        played: Iterator[Samples] = iter(())
        if own is not None:
            played = stack.enter_context(SoundFile(own)).blocks(BLOCK)
        for block in mic.blocks(BLOCK):
            beside = next(played, silence)[: len(block)]
            whole = np.zeros(len(block), np.float32)
            whole[: len(beside)] = beside
            found += onsets.process(block, whole)
            length += len(block)
    for _ in range(TAIL_BLOCKS):
        found += onsets.process(silence, silence)
    return tuple(onset for onset in found if onset.at < length)


def _as_json(aligned: tuple[Aligned, ...], result: Figures, offset: float) -> str:
    line: dict[str, Any] = {
        "onsets": [
            {"time": round(one.time + offset, 5), "bar": one.bar, "beat": _number(one.beat), "ms": round(one.ms, 2)}
            for one in aligned
        ],
        "median_ms": round(result.whole.median_ms, 2) if aligned else None,
        "spread_ms": round(result.whole.spread_ms, 2) if aligned else None,
        "drift_percent": None if result.drift_percent is None else round(result.drift_percent, 3),
        "bars": [{"bar": bar, **_spread(spread)} for bar, spread in result.bars],
        "beats": [{"beat": _number(beat), **_spread(spread)} for beat, spread in result.beats],
        "free": [
            {"first_bar": free.first_bar, "last_bar": free.last_bar, "percent": round(free.percent, 3)}
            | {"end_ms": round(free.end_ms, 2)}
            for free in result.free
        ],
    }
    return json.dumps(line)


def _spread(spread: Spread) -> dict[str, float]:
    return {"count": spread.count, "median_ms": round(spread.median_ms, 2), "spread_ms": round(spread.spread_ms, 2)}


def _number(beat: Fraction) -> int | float:
    return int(beat) if beat.denominator == 1 else round(float(beat), 4)


def _as_table(aligned: tuple[Aligned, ...], result: Figures, offset: float) -> Iterator[str]:
    yield "  seconds    bar  beat       ms"
    for one in aligned:
        yield f"{one.time + offset:9.3f}  {one.bar:5d}  {beat_text(one.beat):<6}  {one.ms:+7.1f}"
    yield ""
    for bar, spread in result.bars:
        yield f"bar {bar:<5d}  {_figures(spread)}"
    for beat, spread in result.beats:
        yield f"beat {beat_text(beat):<4}  {_figures(spread)}"
    for free in result.free:
        yield f"bars {free.first_bar}-{free.last_bar} silent: {paced(free.percent)}, {placed(free.end_ms)} at their end"
    yield f"in all     {_figures(result.whole)}"
    if result.drift_percent is not None:
        yield f"drift      {paced(result.drift_percent)}"


def _figures(spread: Spread) -> str:
    return f"{spread.median_ms:+7.1f} ms  spread {spread.spread_ms:6.1f} ms  ({spread.count})"
