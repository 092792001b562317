"""The three sentences at the top of the sheet. Each is drawn from figures by the rule that stands beside it."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from firmware.sheet.figures import by_degree, key_times
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.words import clock, counted, sharp_or_flat

ENOUGH: Final = 3
"""Held notes without which nothing is said about a degree."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """What was found, and by which rule."""

    text: str
    rule: str


def pitch_sentence(rehearsal: Rehearsal) -> Sentence:
    """Say which degree lay furthest from its target."""
    rule = f"Of the degrees held {ENOUGH} times or more, the one whose median is furthest from its target."
    figures = [figure for figure in by_degree(rehearsal.notes) if figure.count >= ENOUGH]
    if not figures:
        return Sentence(f"No degree was held {ENOUGH} times, so none is judged.", rule)
    worst = max(figures, key=lambda figure: abs(figure.median))
    if abs(worst.median) <= rehearsal.tolerance:
        return Sentence(
            f"Every degree held {ENOUGH} times lay within {rehearsal.tolerance:g} cents of its target.", rule
        )
    where = sharp_or_flat(worst.median)
    return Sentence(f"Degree {worst.degree} lay furthest off: {where} over {worst.count} notes.", rule)


def rest_sentence(rehearsal: Rehearsal) -> Sentence:
    """Say how many notes came to rest, and how soon."""
    rule = (
        f"Notes that stayed within {rehearsal.tolerance:g} cents of their target until they ended; median of the time."
    )
    rested = [note.settled_after_s for note in rehearsal.notes if note.settled_after_s is not None]
    if not rehearsal.notes:
        return Sentence("No note was held long enough to judge.", rule)
    of_all = f"{len(rested)} of {counted(len(rehearsal.notes), 'held note')} came to rest"
    if not rested:
        return Sentence(f"{of_all}.", rule)
    return Sentence(f"{of_all}, half of them within {statistics.median(rested):.1f} s.", rule)


def time_sentence(rehearsal: Rehearsal) -> Sentence:
    """Say where the time went."""
    rule = "Seconds with the drone on, the key with the most time, and the takes added up."
    recorded = sum(take.seconds for take in rehearsal.takes)
    takes = f"{counted(len(rehearsal.takes), 'take')} of {clock(recorded)} in all" if rehearsal.takes else "no take"
    times = key_times(rehearsal)
    sounding = sum(time.sounding for time in times)
    if not sounding:
        return Sentence(f"The drone was silent; there is {takes}.", rule)
    spent = f"The drone sounded for {clock(sounding)} of {clock(rehearsal.seconds)}"
    verb = "are" if len(rehearsal.takes) > 1 else "is"
    return Sentence(f"{spent}, longest in {max(times, key=lambda t: t.sounding).key}; there {verb} {takes}.", rule)


SENTENCES: Final[tuple[Callable[[Rehearsal], Sentence], ...]] = (pitch_sentence, rest_sentence, time_sentence)


def sentences(rehearsal: Rehearsal) -> tuple[Sentence, ...]:
    """All three, in their order."""
    return tuple(make(rehearsal) for make in SENTENCES)
