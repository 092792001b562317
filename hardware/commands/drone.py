"""`keelnote drone`: works out a drone, says what its tones are, and writes its sound to a file."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from typing import Final

from firmware.errors import BadFileError, OutOfRangeError
from firmware.music.chords import shape_named
from firmware.music.harmony import Harmony, Tone, tones_of
from firmware.music.keys import Key
from firmware.music.tuning import Tuning
from firmware.music.words import Words
from firmware.plan.checked_toml import decode
from firmware.plan.tuning_file import read_tuning
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.sound.timbres import timbre_named
from firmware.units import RATE, samples_of
from hardware.commands.naming import add_degrees, add_names, degree_from, key_from, words_from
from hardware.drivers.engine_file import write_engine

SECONDS_RANGE: Final = (0.1, 3600.0)
LEVEL_RANGE: Final = (-60.0, 24.0)
FADE_SECONDS: Final = 0.08
MOST_BYTES: Final = 100_000
"""Bytes of a tuning of one's own."""

HEADING: Final = "degree  note          Hz  from equal    level"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote drone`."""
    parser.description = "Work out a drone, print its tones, and write its sound to a file."
    parser.add_argument("--tonic", default="Bb", help="tonic, such as Bb, B♭, F# or F♯ (default Bb)")
    parser.add_argument("--mode", default="major", help="mode of the key (default major)")
    parser.add_argument("--shape", default="octaves", help="what the drone is made of (default octaves)")
    parser.add_argument("--octave", type=int, default=2, metavar="N", help="octave number of the tonic (default 2)")
    parser.add_argument("--octaves", type=int, default=2, metavar="N", help="octaves that it spans (default 2)")
    parser.add_argument(
        "--tuning", default="just", help="how the degrees are tuned, by name or a file of one's own (default just)"
    )
    parser.add_argument("--a4", type=float, default=440.0, metavar="HZ", help="reference for A4 in Hz (default 440)")
    parser.add_argument("--timbre", default="reed", help="sound of the drone (default reed)")
    parser.add_argument("--degree", default="1", help="degree that the chord stands on, such as 5 or b3 (default 1)")
    parser.add_argument(
        "--free", metavar="LIST", help="degrees of the free shape, such as 1,5,9 (9 is 2, an octave up)"
    )
    parser.add_argument("--level", type=float, default=-18.0, metavar="DB", help="level of the drone (default -18)")
    parser.add_argument("--seconds", type=float, default=10.0, metavar="S", help="length of the sound (default 10)")
    parser.add_argument("--out", metavar="FILE", help="write the sound here, 24 bit (.wav or .flac)")
    add_names(parser)
    add_degrees(parser)
    parser.add_argument("--json", action="store_true", help="print the tones as one JSON object")


def run(args: argparse.Namespace) -> int:
    """Print the tones, and write the sound if a file was named."""
    harmony = harmony_of(args)
    tones = tones_of(harmony)
    timbre = timbre_named(args.timbre).name
    _within("--seconds", args.seconds, SECONDS_RANGE, " s")
    _within("--level", args.level, LEVEL_RANGE, " dB")
    if args.out is not None:
        sounds = tuple(ToneSound(tone.hz, tone.level_db) for tone in tones)
        drone = DroneSound(on=True, tones=sounds, timbre=timbre, level_db=args.level, fade_seconds=FADE_SECONDS)
        write(Path(args.out), drone, samples_of(args.seconds))
    print(_as_json(tones) if args.json else _as_table(tones, words_from(args), harmony.key))
    if args.out is not None and not args.json:
        print(f"{args.seconds:g} s written to {args.out}")
    return 0


def harmony_of(args: argparse.Namespace) -> Harmony:
    """Read the harmony from the arguments; every name and number is checked.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        For a name or number that there isn't.
    """
    shape, key, words = shape_named(args.shape).name, key_from(args), words_from(args)
    own = own_tuning_of(args.tuning)
    degrees = [part for part in re.split(r"[,\s]+", args.free or "") if part]
    return Harmony(
        key=key,
        tuning=args.tuning if own is None else own.name,
        own=own,
        a4=args.a4,
        shape="free" if degrees else shape,
        chord_degree=degree_from(words, key, args.degree) % 12,
        octave=args.octave,
        octaves=args.octaves,
        free=tuple(degree_from(words, key, degree) for degree in degrees),
    )


def own_tuning_of(name: str) -> Tuning | None:
    """Read a tuning of one's own if the name is that of a TOML file.

    Raises
    ------
    BadFileError
        If it can't be read, or anything in it is wrong; the line and the key are named.
    """
    if not name.lower().endswith(".toml"):
        return None
    try:
        with Path(name).open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise BadFileError("file", name, "a file that can be read", str(error)) from error
    if len(data) > MOST_BYTES:
        raise BadFileError(name, "more bytes", f"a tuning of at most {MOST_BYTES} bytes")
    text, problems = decode(data, name)
    own, more = read_tuning(text, name, f"own {Path(name).stem}")
    if problems or own is None:
        raise (*problems, *more)[0]
    return own.tuning


def write(path: Path, drone: DroneSound, length: int) -> None:
    """Write a drone of `length` samples that fades in and out; errors as of `write_engine`."""
    engine = Engine(RATE)
    engine.sound = Sound(drone=drone)
    fading = Sound(drone=DroneSound(on=False, fade_seconds=FADE_SECONDS, level_db=drone.level_db))
    write_engine(path, engine, length, ((max(0, length - samples_of(FADE_SECONDS)), fading),))


def _as_json(tones: tuple[Tone, ...]) -> str:
    rows = [
        {
            "degree": tone.degree,
            "note": tone.note.text,
            "hz": tone.hz,
            "cents_from_equal": tone.cents_from_equal,
            "level_db": tone.level_db,
        }
        for tone in tones
    ]
    return json.dumps({"tones": rows}, ensure_ascii=False)


def _as_table(tones: tuple[Tone, ...], words: Words, key: Key) -> str:
    rows = [
        f"{words.degree(tone.degree, key.mode.name):<6}  {words.note(tone.note.text):<4}  {tone.hz:10.4f}"
        f"  {tone.cents_from_equal:+8.3f} c  {tone.level_db:+4.1f} dB"
        for tone in tones
    ]
    return "\n".join([HEADING, *rows])


def _within(thing: str, value: float, limits: tuple[float, float], unit: str) -> None:
    low, high = limits
    if not low <= value <= high:
        raise OutOfRangeError(thing, value, f"{low:g} to {high:g}{unit}")
