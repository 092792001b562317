"""The figures of drills: for each group and each sort of drill the middle, the spread, and what can be told from it."""

from __future__ import annotations

import statistics
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from firmware.sheet.chances import middle_interval, share_interval
from firmware.sheet.past import MOST_DRILLS, PastDrill
from firmware.sheet.rehearsal import DrillAnswer

ENOUGH: Final = 6
"""Rounds from which on something can be told of a middle with a certainty of 95 %."""


@dataclass(frozen=True, slots=True)
class DrillFigure:
    """What a group did in one sort of drill.

    Parameters
    ----------
    middle, low, high : float or None
        Median and quartiles of how far off the rounds ended, in cents or dB, with their sign.
    sure : tuple of float or None
        Between these the true middle lies, 19 times in 20; None with too few rounds.
    right : int or None
        Rounds that were right, where there is a right and wrong.
    seconds : float
        Median of how long a round took.
    beats : float or None
        Median of the beats per second.
    value, least, most : float or None
        The figure that is followed from rehearsal to rehearsal, and between what it is sure to lie: the distance
        from the target, or the share of right rounds in per cent.
    """

    group: str
    drill: str
    kind: str
    degree: str
    count: int
    middle: float | None
    low: float | None
    high: float | None
    sure: tuple[float, float] | None
    right: int | None
    seconds: float
    beats: float | None
    value: float | None
    least: float | None
    most: float | None


def by_drill(answers: Iterable[DrillAnswer]) -> tuple[DrillFigure, ...]:
    """One figure for each group and sort of drill, in the order in which they were first done."""
    groups: dict[tuple[str, str, str], list[DrillAnswer]] = {}
    for answer in answers:
        groups.setdefault((answer.group, answer.drill, answer.kind), []).append(answer)
    return tuple(_figure(*name, told) for name, told in groups.items())


def past_drills(answers: Iterable[DrillAnswer]) -> tuple[PastDrill, ...]:
    """What later rehearsals compare with."""
    return tuple(
        PastDrill(one.group, one.drill, one.kind, one.count, _short(one.value), _short(one.least), _short(one.most))
        for one in by_drill(answers)[-MOST_DRILLS:]
    )


def differs(now: DrillFigure, then: PastDrill) -> float:
    """By how much a figure surely differs from an earlier one: 0 if their intervals meet or one has none.

    Intervals that do not meet are a stricter sign than a test of the difference would be.
    """
    if now.least is None or now.most is None or then.least is None or then.most is None:
        return 0.0
    if now.most < then.least or now.least > then.most:
        return (now.value or 0.0) - (then.value or 0.0)
    return 0.0


def _short(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _figure(group: str, drill: str, kind: str, answers: list[DrillAnswer]) -> DrillFigure:
    offs = [one.off for one in answers if one.off is not None]
    judged = [one.right for one in answers if one.right is not None]
    beats = [one.beats for one in answers if one.beats is not None]
    low, high = _quartiles(offs)
    value, least, most = _share(judged) if judged else _distance(offs)
    return DrillFigure(
        group=group,
        drill=drill,
        kind=kind,
        degree=answers[0].degree,
        count=len(answers),
        middle=statistics.median(offs) if offs else None,
        low=low,
        high=high,
        sure=middle_interval(offs),
        right=sum(judged) if judged else None,
        seconds=statistics.median(one.seconds for one in answers),
        beats=statistics.median(beats) if beats else None,
        value=value,
        least=least,
        most=most,
    )


def _quartiles(values: list[float]) -> tuple[float | None, float | None]:
    if len(values) < 2:
        return (values[0], values[0]) if values else (None, None)
    # Linear between the values, ends included: quartiles of so few must not lie outside of them.
    low, _, high = statistics.quantiles(values, n=4, method="inclusive")
    return low, high


def _share(judged: list[bool]) -> tuple[float, float, float]:
    low, high = share_interval(sum(judged), len(judged))
    return 100.0 * sum(judged) / len(judged), 100.0 * low, 100.0 * high


def _distance(offs: list[float]) -> tuple[float | None, float | None, float | None]:
    away = [abs(off) for off in offs]
    sure = middle_interval(away)
    return (statistics.median(away) if away else None, *(sure or (None, None)))
