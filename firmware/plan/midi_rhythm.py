"""From a Standard MIDI File to a piece with its bars and tempos, or to a groove."""

from __future__ import annotations

import bisect
from fractions import Fraction
from typing import Final

from firmware.errors import BadFileError
from firmware.music.general_midi import sound_of_key
from firmware.music.groove import MOST_BARS, Groove, Stroke
from firmware.music.meter import COMMON_TIME, Bars, Meter, meter_of
from firmware.music.program import Program
from firmware.music.tempo import Curve, Stretch
from firmware.plan.midi_file import DEFAULT_TEMPO, MidiFile

LOUDEST: Final = 127
MOST_PIECE_BARS: Final = 20_000
MOST_STROKES_IN_BAR: Final = 256
"""A bar is worked out at one go while the sound runs."""


def whole_notes(midi: MidiFile, tick: int) -> Fraction:
    """Position of a tick."""
    return Fraction(tick, 4 * midi.division)


def curve_of(midi: MidiFile) -> Curve:
    """Tempo of a file; of several changes at one tick the last counts."""
    tempos = {0: DEFAULT_TEMPO, **dict(midi.tempos)}
    ticks = sorted(tempos)
    moves = []
    for tick, following in zip(ticks, [*ticks[1:], None], strict=True):
        speed = 15e6 / tempos[tick]  # whole notes a minute: 60 000 000 µs, four quarters
        length = Fraction(0) if following is None else whole_notes(midi, following - tick)
        moves.append(Stretch(length, speed, speed))
    return Curve(moves[0].start, tuple(moves))


def bars_of(midi: MidiFile, source: str) -> tuple[Bars, int]:
    """Bars of a file and how many there are; a bar that a new time signature cuts short is a bar of its own."""
    changes = {0: COMMON_TIME, **{tick: meter_of(top, under) for tick, top, under in midi.signatures}}
    ticks = sorted(tick for tick in changes if tick < max(midi.end, 1))
    runs: list[tuple[int, Meter]] = []
    count = 0
    for tick, following in zip(ticks, [*ticks[1:], max(midi.end, 1)], strict=True):
        meter, length = changes[tick], whole_notes(midi, following - tick)
        bars, rest = divmod(length, meter.length)
        last = following == max(midi.end, 1)
        whole = int(bars) + (1 if last and rest else 0)
        if whole:
            runs.append((whole, meter))
        if rest and not last:
            runs.append((1, cut_short(meter, rest)))
        count += whole + (1 if rest and not last else 0)
        if count > MOST_PIECE_BARS:
            raise BadFileError(source, f"{count} bars", f"a piece of at most {MOST_PIECE_BARS} bars")
    return Bars(tuple(runs), repeat=False), count


def cut_short(meter: Meter, rest: Fraction) -> Meter:
    """Meter of a bar of which only so much is left."""
    beats = rest / meter.beat
    return Meter((int(beats),), meter.beat) if beats.denominator == 1 else Meter((1,), rest)


def pattern_of(midi: MidiFile, bars: Bars, count: int, source: str) -> tuple[tuple[Stroke, ...], ...]:
    """Percussion of a file, bar by bar."""
    starts = [bars.bar(number)[0] for number in range(1, count + 1)]
    ticks = [tick for tick, _, _ in midi.strokes]
    found = []
    for number, start in enumerate(starts):
        end = bars.bar(number + 2)[0]
        first, last = (bisect.bisect_left(ticks, edge * 4 * midi.division) for edge in (start, end))
        if last - first > MOST_STROKES_IN_BAR:
            allowed = f"at most {MOST_STROKES_IN_BAR} percussion notes in a bar"
            raise BadFileError(source, f"{last - first} in bar {number + 1}", allowed)
        found.append(
            tuple(
                Stroke(whole_notes(midi, tick) - start, sound_of_key(key), velocity / LOUDEST)
                for tick, key, velocity in midi.strokes[first:last]
            )
        )
    return tuple(found)


def program_of_midi(midi: MidiFile, source: str, name: str = "") -> Program:
    """Make a piece of a file: its bars, its tempos, and its percussion as the click if it has any.

    Raises
    ------
    BadFileError
        If it has too many bars.
    """
    bars, count = bars_of(midi, source)
    groove = None
    if midi.strokes:
        pattern = pattern_of(midi, bars, count, source)
        groove = Groove(name or source, midi.title or name, bars.runs[0][1], pattern, whole=True)
    return Program(bars=bars, curve=curve_of(midi), unit=bars.runs[0][1].beat, groove=groove, length=count)


def groove_of_midi(midi: MidiFile, source: str, name: str) -> Groove:
    """Make a groove of a file: its percussion, in its first time signature; tempos are left to the box.

    Raises
    ------
    BadFileError
        If it has no percussion, or too many bars.
    """
    if not midi.strokes:
        remedy = "Put it into the folder plans if it is a piece whose tempos you want."
        raise BadFileError(source, "no percussion", "notes on channel 10 (General MIDI percussion)", remedy)
    last = max(midi.strokes[-1][0] + 1, midi.end)
    one_meter = MidiFile(midi.division, (), midi.signatures[:1], midi.strokes, last, midi.title)
    bars, count = bars_of(one_meter, source)
    if count > MOST_BARS:
        remedy = "Put it into the folder plans if it is a piece."
        raise BadFileError(source, f"{count} bars", f"a groove of at most {MOST_BARS} bars", remedy)
    return Groove(name, midi.title or name, bars.runs[0][1], pattern_of(one_meter, bars, count, source))
