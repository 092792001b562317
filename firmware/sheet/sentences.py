"""The three sentences at the top of the sheet. Each is drawn from figures by the rule that stands beside it."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from firmware.music.lateness import paced, placed
from firmware.sheet.chances import guessed
from firmware.sheet.drill_figures import ENOUGH as ROUNDS
from firmware.sheet.drill_figures import DrillFigure, by_drill
from firmware.sheet.figures import ENOUGH, by_degree, key_times, past_of
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.words import clock, counted, degree_name, sharp_or_flat, signed, signed_cents

EXPOSED: Final = 50.0
"""Per cent of a day's sound dose from which the sheet speaks of it at the top."""

MOST_BEFORE: Final = 3
"""Earlier rehearsals that are compared with."""

ALIKE: Final = 1.0
"""Cents by which the distance from the target must change before it is called a change."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """What was found, and by which rule."""

    text: str
    rule: str


def pitch_sentence(rehearsal: Rehearsal) -> Sentence:
    """Say which degree lay furthest from its target, and whether it came to rest."""
    rule = f"Of the degrees held {ENOUGH} times or more, the one whose median is furthest from its target."
    figures = [figure for figure in by_degree(rehearsal.notes) if figure.count >= ENOUGH]
    if not figures:
        return Sentence(f"No degree was held {ENOUGH} times, so none is judged.", rule)
    worst = max(figures, key=lambda figure: abs(figure.median))
    if abs(worst.median) <= rehearsal.tolerance:
        return Sentence(
            f"Every degree held {ENOUGH} times lay within {rehearsal.tolerance:g} cents of its target.", rule
        )
    rested = f"{worst.settled or 'none'} of them came to rest"
    return Sentence(
        f"The {degree_name(worst.degree)} lay furthest off: {sharp_or_flat(worst.median)} over {worst.count} notes; "
        f"{rested}.",
        rule,
    )


def second_sentence(rehearsal: Rehearsal) -> Sentence:
    """Speak of the time if anybody played to the pulse, else of notes that came to rest."""
    return timing_sentence(rehearsal) or rest_sentence(rehearsal)


def timing_sentence(rehearsal: Rehearsal) -> Sentence | None:
    """Say how the players lay against the pulse."""
    if not rehearsal.timings:
        return None
    most = max(rehearsal.timings, key=lambda pulse: pulse.count)
    drift = "" if most.drift_percent is None else f", {paced(most.drift_percent)}"
    where = f"the click from {clock(most.start_s)} (bars {most.first_bar}–{most.last_bar})"
    text = f"With {where} the players were {placed(most.median_ms)}{drift}"
    far = max(most.beats, key=lambda one: abs(one[1]), default=None)
    if far is not None and len(most.beats) > 1:
        text += f"; beat {far[0]} was furthest off, {placed(far[1])}"
    return Sentence(
        f"{text}.", "Of all pulses the one with the most notes played to it: median, drift, and the beat furthest off."
    )


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


def third_sentence(rehearsal: Rehearsal) -> Sentence:
    """Speak of the sound dose if it is high, else of a drill, else of what has changed, else of where the time went."""
    return (
        dose_sentence(rehearsal) or drill_sentence(rehearsal) or trend_sentence(rehearsal) or time_sentence(rehearsal)
    )


def dose_sentence(rehearsal: Rehearsal) -> Sentence | None:
    """Say how much of a day's sound dose the rehearsal was, from half of it on."""
    level = rehearsal.level
    if level is None or not level.calibrated or level.dose < EXPOSED:
        return None
    return Sentence(
        f"The microphone's place had {level.dose:.0f} % of a day's recommended sound dose: plan for quiet.",
        f"Dose by NIOSH 98-126 (85 dB(A) for 8 hours, 3 dB exchange), told here from {EXPOSED:g} % on; an estimate.",
    )


def drill_sentence(rehearsal: Rehearsal) -> Sentence | None:
    """Say what came of the drill with the most rounds, if these are enough to tell anything."""
    figures = [one for one in by_drill(rehearsal.drills) if one.count >= ROUNDS]
    if not figures:
        return None
    most = max(figures, key=lambda one: one.count)
    rule = f"Of the drills with {ROUNDS} rounds or more the one with the most; in brackets what is sure 19 times in 20."
    told = DRILLED.get(most.drill)
    return None if told is None else Sentence(f"{most.group} {told(most)}.", rule)


def _settled(one: DrillFigure) -> str:
    sure = "" if one.sure is None else f" ({signed_cents(one.sure[0])} to {signed_cents(one.sure[1])})"
    where = sharp_or_flat(one.middle or 0.0)
    return f"settled the {degree_name(one.degree)} {where} in the middle of {one.count} rounds{sure}"


def _told_apart(one: DrillFigure) -> str:
    share = guessed(one.right or 0, one.count)
    how = "more than guessing gives" if share < UNLIKELY else "which guessing gives too"
    return f"told just from equal {one.right} times of {one.count}, {how} ({_shares(one)})"


def _matched(one: DrillFigure) -> str:
    return f"held {one.right} of {one.count} degrees, {one.kind.removeprefix('scale, ')} ({_shares(one)})"


def _balanced(one: DrillFigure) -> str:
    sure = "" if one.sure is None else f" ({signed(one.sure[0])} to {signed(one.sure[1])})"
    return f"set the {one.kind} {signed(one.middle or 0.0)} dB off in the middle of {one.count} rounds{sure}"


def _shares(one: DrillFigure) -> str:
    return f"{one.least or 0.0:.0f} to {one.most or 0.0:.0f} %"


UNLIKELY: Final = 0.05
"""What guessing gives less often than this is more than guessing (common practice)."""

DRILLED: Final[Mapping[str, Callable[[DrillFigure], str]]] = MappingProxyType(
    {"settle": _settled, "which-is-it": _told_apart, "match": _matched, "balance": _balanced}
)
"""What a group did, by the name of the drill."""


def trend_sentence(rehearsal: Rehearsal) -> Sentence | None:
    """Say whether notes lay nearer to their targets than before."""
    now = past_of(rehearsal)
    earlier = [one.off_cents for one in rehearsal.past if one.off_cents is not None and one.notes >= ENOUGH]
    if now.off_cents is None or now.notes < ENOUGH or not earlier:
        return None
    recent = earlier[-MOST_BEFORE:]
    then = statistics.median(recent)
    change = now.off_cents - then
    how = "as near to their targets as" if abs(change) < ALIKE else f"{'nearer to' if change < 0 else 'further from'}"
    whom = "in the rehearsal before" if len(recent) == 1 else f"in the {len(recent)} rehearsals before"
    than = "" if abs(change) < ALIKE else " their targets than"
    return Sentence(
        f"Held notes lay {how}{than} {whom}: {now.off_cents:.0f} cents off in the middle, {then:.0f} before.",
        f"Median distance from the target, against the median of up to {MOST_BEFORE} rehearsals before; a change under "
        f"{ALIKE:g} cent is none.",
    )


def time_sentence(rehearsal: Rehearsal) -> Sentence:
    """Say where the time went."""
    rule = "Seconds with the drone on, the key with the most time, and the takes added up."
    recorded = sum(take.seconds for take in rehearsal.takes)
    takes = f"{counted(len(rehearsal.takes), 'take')} of {clock(recorded)} in all" if rehearsal.takes else "no take"
    verb = "are" if len(rehearsal.takes) > 1 else "is"
    times = key_times(rehearsal)
    sounding = sum(time.sounding for time in times)
    if not sounding:
        return Sentence(f"The drone was silent; there {verb} {takes}.", rule)
    spent = f"The drone sounded for {clock(sounding)} of {clock(rehearsal.seconds)}"
    return Sentence(f"{spent}, longest in {max(times, key=lambda t: t.sounding).key}; there {verb} {takes}.", rule)


SENTENCES: Final[tuple[Callable[[Rehearsal], Sentence], ...]] = (pitch_sentence, second_sentence, third_sentence)


def sentences(rehearsal: Rehearsal) -> tuple[Sentence, ...]:
    """All three, in their order."""
    return tuple(make(rehearsal) for make in SENTENCES)
