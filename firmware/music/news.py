"""What the next bar of a pulse brings, so that it can be announced a bar ahead."""

from __future__ import annotations

from fractions import Fraction

from firmware.music.program import Program
from firmware.music.tempo import Move, Pause


def next_news(program: Program, number: int) -> str:
    """What is new in the bar after bar `number`, in a few words; empty if nothing is."""
    start, meter = program.bars.bar(number + 1)
    if program.over(number + 1):
        return "" if program.over(number) else "end"
    words = []
    if number + 1 > program.first_bar and meter != program.bars.bar(number)[1]:
        words.append(meter.text)
    moves = program.curve.moves_in(start, start + meter.length)
    words += [moved(move, program.unit) for speed, move in moves if changes_something(speed, move)]
    if program.silent_in(number + 1) != program.silent_in(number):
        words.append("silent" if program.silent_in(number + 1) else "heard")
    return ", ".join(words)


def changes_something(speed: float, move: Move) -> bool:
    """Whether a move is heard as a change after music at a speed."""
    return isinstance(move, Pause) or move.start != move.end or move.start != speed


def moved(move: Move, unit: Fraction) -> str:
    """A move in a word or two; tempos count notes of `unit`."""
    if isinstance(move, Pause):
        return "cut-off" if move.cut else "hold"
    tempo = round(move.end / float(unit), 1)
    if move.start == move.end:
        return f"tempo {tempo:g}"
    return f"{'slower' if move.end < move.start else 'faster'} to {tempo:g}"
