"""The bars of a stretch of a score as the pulse writes them: a pickup, and a list of meters."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from firmware.music.meter import COMMON_TIME, UNITS, Meter, parse_meter
from firmware.plan.score import Place, Score


def meter_at(score: Score, bar: int) -> Meter:
    """Meter of a bar; four quarters where the score gives none."""
    text = next((meter.text for meter in reversed(score.meters) if meter.place.bar <= bar), "")
    return parse_meter(text) if text else COMMON_TIME


def pickup_at(score: Score, start: Place) -> Fraction:
    """Quarter notes before the first whole bar of a stretch: those of a short first bar, or of the rest of a bar."""
    bar = score.bars[start.bar]
    left = bar.length - start.offset
    return left if 0 < left < 4 * meter_at(score, start.bar).length and _begins_short(score, start) else Fraction(0)


def _begins_short(score: Score, start: Place) -> bool:
    return start.offset > 0 or start.bar == 0 or score.bars[start.bar].length < score.bars[start.bar - 1].length


def meter_list(score: Score, start: Place, end: Place) -> str:
    """Meters from one place to another, such as 4/4x3 3/4; one meter alone if it is the same in all bars."""
    first = start.bar + (1 if pickup_at(score, start) else 0)
    last = end.bar if end.offset else end.bar - 1
    runs: list[tuple[int, str]] = []
    for text in _texts(score, first, last):
        if runs and runs[-1][1] == text:
            runs[-1] = (runs[-1][0] + 1, text)
        else:
            runs.append((1, text))
    if not runs:
        return meter_at(score, start.bar).text
    if len(runs) == 1:
        return runs[0][1]
    return " ".join(text if count == 1 else f"{text}x{count}" for count, text in runs)


def _texts(score: Score, first: int, last: int) -> Iterator[str]:
    """Meter of each bar; of two that make up one, as around a repeat sign, that of the whole."""
    bar = first
    while bar <= last:
        meter = meter_at(score, bar)
        nominal, length = 4 * meter.length, score.bars[bar].length
        both = length + (score.bars[bar + 1].length if bar + 1 < len(score.bars) else 0)
        if length < nominal and both == nominal and bar < last:
            bar += 1
            yield meter.text
        elif bar == last and length < nominal:
            yield meter.text  # the last bar is short where the piece began with a pickup
        else:
            yield meter.text if length == nominal else _cut(meter, length / 4)
        bar += 1


def _cut(meter: Meter, length: Fraction) -> str:
    """Time signature of a bar of another length than its meter says."""
    for unit in UNITS:
        top = length * unit
        if top.denominator == 1 and unit >= meter.beat.denominator and 0 < top <= 64:
            return f"{top}/{unit}"
    return meter.text
