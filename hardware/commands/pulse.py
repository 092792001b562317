"""`keelnote pulse`: works out a pulse beat by beat, says when each beat falls, and writes its sound to a file."""

from __future__ import annotations

import argparse
import json
import re
from fractions import Fraction
from pathlib import Path
from typing import Final

import numpy as np

from firmware.errors import BadFileError, OutOfRangeError
from firmware.music.groove import STEADY, STEEPEST, Groove
from firmware.music.grooves import groove_named
from firmware.music.kit import kit_named
from firmware.music.meter import Bars, parse_bars
from firmware.music.moves import TEMPO_RANGE, parse_moves
from firmware.music.program import ACCENTS, CROSSINGS, Beat, Program
from firmware.music.tempo import Curve
from firmware.plan.checked_toml import decode
from firmware.plan.groove_file import read_groove
from firmware.plan.midi_file import MOST_BYTES, read_midi
from firmware.plan.midi_rhythm import groove_of_midi, program_of_midi
from firmware.sound.engine import SOFT_START_SECONDS, Engine
from firmware.sound.snapshot import PulseSound, Sound
from firmware.units import RATE, samples_of
from hardware.drivers.engine_file import write_engine

BARS_RANGE: Final = (1, 10_000)
LEVEL_RANGE: Final = (-60.0, 0.0)
LONGEST: Final = 7200.0
RING_SECONDS: Final = 0.3
"""The last strokes ring out after the last bar."""
DEFAULT_BARS: Final = 8
DEFAULT_TEMPO: Final = 92.0
MOST_SILENT: Final = 1000


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote pulse`."""
    parser.description = "Work out a pulse, print when its beats fall, and write its sound to a file."
    say = parser.add_argument
    say("--tempo", type=float, metavar="N", help="beats a minute, 20 to 300 (default 92)")
    say("--meter", metavar="METER", help="meter such as 6/8 or 2+2+3/8, or bars such as '4/4x3 3/4' (default 4/4)")
    say("--unit", metavar="NOTE", help="note value that the tempo counts, such as 1/4 or 3/8 (default: the beat)")
    say("--bars", type=int, metavar="N", help=f"bars to play (default {DEFAULT_BARS}, or all of the MIDI file)")
    words = "a groove by name, or a file of one's own (.toml, .mid); in another meter it plays what fits"
    say("--groove", metavar="NAME", help=words)
    say("--swing", type=float, default=2.0, metavar="R", help="first of two swung notes against the second, 1 to 3")
    say("--ramp", metavar="MOVES", help="tempo moves, such as '60->120 over 16 beats, hold 2 beats, cut 1 s'")
    say("--midi", metavar="FILE", help="bars, tempos and percussion of a Standard MIDI File")
    say("--silent", metavar="N+M", help="N bars are heard, then M are silent, again and again")
    say("--count-in", type=int, default=0, metavar="N", help="bars counted in (default 0)")
    say("--pickup", type=float, default=0.0, metavar="BEATS", help="beats before bar 1 (default 0)")
    say("--subdivision", type=int, default=1, metavar="N", help="parts of a beat, 1 to 6 (default 1)")
    say("--cross", default="off", choices=tuple(CROSSINGS), help="cross-rhythm, strokes to beats")
    say("--accents", default="groups", choices=ACCENTS, help="which beats are stressed (default groups)")
    say("--kit", default="click", metavar="NAME", help="sounds of the plain beats (default click)")
    say("--level", type=float, default=-12.0, metavar="DB", help="level (default -12)")
    say("--out", metavar="FILE", help="write the sound here, 24 bit (.wav or .flac)")
    say("--json", action="store_true", help="print the beats as one JSON object")


def run(args: argparse.Namespace) -> int:
    """Print the beats, and write the sound if a file was named."""
    program = program_of(args)
    _within("length of the pulse in seconds", program.seconds, (0.0, LONGEST))
    _within("--level", args.level, LEVEL_RANGE)
    beats = tuple(program.all_beats())
    if args.out is not None:
        write(Path(args.out), program, args.level)
    print(_as_json(beats) if args.json else _as_table(beats, program))
    if args.out is not None and not args.json:
        print(f"{program.seconds:.3f} s written to {args.out}")
    return 0


def program_of(args: argparse.Namespace) -> Program:
    """Read the program from the arguments; every name, number and file is checked.

    Raises
    ------
    KeelnoteError
        For what can't be used.
    """
    heard, silent = _silent(args.silent)
    _within("--count-in", args.count_in, (0, 16))
    _within("--subdivision", args.subdivision, (1, 6))
    _within("--swing", args.swing, (float(STEADY), float(STEEPEST)))
    kit = kit_named(args.kit).name
    if args.bars is not None:
        _within("--bars", args.bars, BARS_RANGE)
    common = {"heard": heard, "silent": silent, "count_in": args.count_in}
    if args.midi is not None:
        _alone(args)
        piece = program_of_midi(read_midi(_bytes(args.midi), args.midi), args.midi, Path(args.midi).stem)
        return Program(
            bars=piece.bars,
            curve=piece.curve,
            unit=piece.unit,
            groove=piece.groove,
            kit=kit,
            subdivision=args.subdivision,
            cross=CROSSINGS[args.cross],
            accents=args.accents,
            length=min(args.bars or BARS_RANGE[1], piece.length or BARS_RANGE[1]),
            **common,
        )
    groove = groove_of(args.groove) if args.groove else None
    bars = _bars(args.meter, groove)
    unit = _unit(args.unit) if args.unit else bars.runs[0][1].beat
    tempo = _within("--tempo", DEFAULT_TEMPO if args.tempo is None else args.tempo, TEMPO_RANGE)
    moves = parse_moves(args.ramp or "", bars, unit, tempo)
    pickup = Fraction(_within("--pickup", args.pickup, (0.0, 64.0))) * bars.bar(1)[1].beat
    if pickup and pickup >= bars.bar(1)[1].length:
        raise OutOfRangeError("--pickup", args.pickup, "less than a bar")
    return Program(
        bars=bars,
        curve=Curve(tempo * float(unit), moves),
        unit=unit,
        groove=groove,
        swing=Fraction(str(args.swing)),
        kit=kit,
        subdivision=args.subdivision,
        cross=CROSSINGS[args.cross],
        accents=args.accents,
        pickup=pickup,
        length=args.bars or DEFAULT_BARS,
        **common,
    )


def groove_of(name: str) -> Groove:
    """Find a groove by its name, or read it from a file.

    Raises
    ------
    UnknownNameError, BadFileError
        If there is no such groove, or the file holds none.
    """
    path = Path(name)
    if path.suffix.lower() in (".mid", ".midi"):
        return groove_of_midi(read_midi(_bytes(name), name), name, path.stem)
    if path.suffix.lower() != ".toml":
        return groove_named(name)
    text, problems = decode(_bytes(name), name)
    groove, more = read_groove(text, name, path.stem)
    if problems or groove is None:
        raise (*problems, *more)[0]
    return groove


def write(path: Path, program: Program, level_db: float) -> None:
    """Write a program's sound from its first sample on; errors as of `write_engine`."""
    engine = Engine(RATE)
    # The engine rises slowly when it is switched on; the pulse begins after that.
    engine.process(np.zeros(samples_of(2 * SOFT_START_SECONDS), dtype=np.float32))
    engine.sound = Sound(pulse=PulseSound(on=True, start=engine.position, program=program, run=1, level_db=level_db))
    write_engine(path, engine, samples_of(program.seconds + RING_SECONDS))


def _bars(text: str | None, groove: Groove | None) -> Bars:
    if groove is None:
        return parse_bars(text or "4/4")
    return Bars(((1, groove.meter),)) if text is None else parse_bars(text)


def _unit(text: str) -> Fraction:
    if not re.fullmatch(r"[0-9]{1,2}/[0-9]{1,2}", text) or text.endswith(("/0", "/00")):
        raise OutOfRangeError("--unit", text, "a note value as a part of a whole note, such as 1/4 or 3/8")
    unit = Fraction(text)
    if not Fraction(1, 32) <= unit <= 2:
        raise OutOfRangeError("--unit", text, "1/32 to 2/1")
    return unit


def _silent(text: str | None) -> tuple[int, int]:
    if text is None:
        return 0, 0
    match = re.fullmatch(r"\s*([0-9]{1,4})\s*\+\s*([0-9]{1,4})\s*", text)
    heard, silent = (int(match[1]), int(match[2])) if match else (0, 0)
    if not 1 <= heard <= MOST_SILENT or not 1 <= silent <= MOST_SILENT:
        raise OutOfRangeError("--silent", text, "bars heard and bars silent, such as 2+2")
    return heard, silent


def _alone(args: argparse.Namespace) -> None:
    """Refuse what contradicts a MIDI file, which brings its own."""
    for name in ("tempo", "meter", "groove", "ramp", "unit"):
        if getattr(args, name) is not None:
            raise OutOfRangeError(f"--{name}", getattr(args, name), "left out beside --midi, which brings its own")


def _bytes(name: str) -> bytes:
    try:
        with Path(name).open("rb") as file:
            return file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise BadFileError("file", name, "a file that can be read", str(error)) from error


def _as_json(beats: tuple[Beat, ...]) -> str:
    rows = [{"time": beat.time, "bar": beat.bar, "beat": beat.beat, "weight": beat.weight} for beat in beats]
    return json.dumps({"beats": rows})


def _as_table(beats: tuple[Beat, ...], program: Program) -> str:
    rows = [
        f"{beat.time:12.6f} s  {beat.bar:>5}  {beat.beat:>4}  {beat.weight:>6.2f}"
        f"  {program.curve.speed_at(float(beat.position)) / float(program.unit):7.2f}"
        for beat in beats
    ]
    return "\n".join(["        time      bar  beat  weight    tempo", *rows])


def _within(thing: str, value: float, limits: tuple[float, float]) -> float:
    low, high = limits
    if not low <= value <= high:
        raise OutOfRangeError(thing, value, f"{low:g} to {high:g}")
    return value
