"""From a score to its sections: where a step of the plan begins, and which bars it holds in the order of playing."""

from __future__ import annotations

import bisect
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final

from firmware.plan.score import Place, Score
from firmware.plan.score_bars import meter_list
from firmware.plan.score_order import played
from firmware.settings import LONGEST_TEXT

HAIR: Final = Fraction(1, 16)
"""Quarter notes before a bar line that are none."""

LONGEST_LIST: Final = LONGEST_TEXT
"""Characters of a list of meters; a section with more changes is cut in two."""


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the printed score without a change of key or tempo and without a mark: `start` is in, `end` not."""

    start: Place
    end: Place

    @property
    def last_bar(self) -> int:
        """The last bar of which anything belongs to it."""
        return self.end.bar if self.end.offset else self.end.bar - 1


@dataclass(frozen=True, slots=True)
class Passage:
    """A section as it is played once: its number, the ranges of bars in turn, and whether it was played before."""

    section: int
    ranges: tuple[tuple[int, int], ...]
    visit: int


def sections_of(score: Score) -> tuple[Section, ...]:
    """Cut a score into sections, in the order in which it is printed."""
    end = Place(len(score.bars))
    edges = {Place(0)}
    edges |= {mark.place for mark in score.marks}
    key: object = None
    for one in score.keys:
        if (one.fifths, one.mode) != key:
            edges.add(one.place)
            key = (one.fifths, one.mode)
    tempo = 0.0
    for mark in score.tempos:
        if mark.quarters != tempo:
            edges.add(mark.place)
            tempo = mark.quarters
    tidy = sorted({_tidy(score, edge) for edge in edges if edge < end} - {end})
    return tuple(part for start, stop in pairwise([*tidy, end]) for part in _short_enough(score, Section(start, stop)))


def _tidy(score: Score, place: Place) -> Place:
    """Move a place at the end of a bar, or right before it, to the beginning of the next.

    Programs that write a direction after the last note round its place.
    """
    return Place(place.bar + 1) if score.bars[place.bar].length - place.offset < HAIR else place


def _short_enough(score: Score, section: Section) -> Iterator[Section]:
    """Cut a section so that the meters of each piece can be written in one line."""
    start = section.start
    while len(meter_list(score, start, section.end)) > LONGEST_LIST:
        low, high = start.bar + 1, section.end.bar
        while low < high:
            middle = (low + high + 1) // 2
            if len(meter_list(score, start, Place(middle))) <= LONGEST_LIST:
                low = middle
            else:
                high = middle - 1
        yield Section(start, Place(low))
        start = Place(low)
    if start < section.end:
        yield Section(start, section.end)


def passages_of(score: Score, sections: tuple[Section, ...], *, once: bool) -> tuple[Passage, ...]:
    """Sections in the order of playing, or each once as they are printed; a repeat of one section is one passage."""
    order = tuple(range(len(score.bars))) if once else played(score.turns)
    starts = [section.start for section in sections]
    found: list[tuple[int, list[tuple[int, int]]]] = []
    for first, last in _runs(order):
        number = max(bisect.bisect_right(starts, Place(first)) - 1, 0)
        while number < len(sections) and sections[number].start.bar <= last:
            piece = (max(first, sections[number].start.bar), min(last, sections[number].last_bar))
            if found and found[-1][0] == number:
                found[-1][1].append(piece)
            elif piece[0] <= piece[1]:
                found.append((number, [piece]))
            number += 1
    visits: dict[int, int] = {}
    passages = []
    for number, ranges in found:
        visits[number] = visits.get(number, 0) + 1
        passages.append(Passage(number, tuple(ranges), visits[number]))
    return tuple(passages)


def _runs(order: tuple[int, ...]) -> Iterator[tuple[int, int]]:
    """Stretches of bars that follow each other."""
    first = last = order[0]
    for bar in order[1:]:
        if bar != last + 1:
            yield first, last
            first = bar
        last = bar
    yield first, last
