"""The part of the sheet that tells what came of the drills, group by group, and against earlier rehearsals."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from types import MappingProxyType
from typing import Final

from firmware.sheet.chances import guessed
from firmware.sheet.drill_figures import ENOUGH, DrillFigure, by_drill, differs
from firmware.sheet.html import section, table, words
from firmware.sheet.past import PastDrill
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.svg import picture
from firmware.sheet.words import counted, sharp_or_flat, signed

MOST_FIGURES: Final = 12
MOST_BEFORE: Final = 11
"""Earlier rehearsals in a picture."""

WIDTH: Final = 240
HEIGHT: Final = 96
SIDE: Final = 26
TOP: Final = 18
FOOT: Final = 22

TOO_FEW: Final = "too few to tell"
HINT: Final = (
    f"Groups, never people. Middle of the rounds, and between what half of them lay. The true middle lies within "
    f"“surely” 19 times in 20 (order statistics; of shares, Clopper and Pearson); fewer than {ENOUGH} rounds can't "
    f"tell. A change is called one only where the two intervals do not meet."
)


@dataclass(frozen=True, slots=True)
class _Unit:
    """How the rounds of a drill are told: unit, word for the figure that is followed, whether less of it is better."""

    unit: str
    followed: str
    less: bool = True


UNITS: Final[Mapping[str, _Unit]] = MappingProxyType(
    {
        "settle": _Unit("cents", "cents from just"),
        "balance": _Unit("dB", "dB from its level"),
        "which-is-it": _Unit("%", "% right", less=False),
        "match": _Unit("%", "% held", less=False),
    }
)
OTHER: Final = _Unit("", "off")


def drills_html(rehearsal: Rehearsal) -> str:
    """Draw up the part; nothing when there was no drill."""
    figures = by_drill(rehearsal.drills)[-MOST_FIGURES:]
    if not figures:
        return ""
    head = ("drill", "rounds", "result", "half of them", "surely (95 %)", "before")
    rows = [
        (drill_name(one), str(one.count), result(one), _half(one), _sure(one), _before(one, rehearsal))
        for one in figures
    ]
    drawn = "".join(_picture(place, one, _earlier(one, rehearsal)) for place, one in enumerate(figures, 1))
    trends = f'<div class="trends">{drawn}</div>' if drawn else ""
    return section("Drills", table("Table of drills", head, rows), trends, words(HINT, "hint"), kind="drills")


def drill_name(one: DrillFigure) -> str:
    """A group and what it was asked."""
    return f"{one.group}: {one.drill.replace('-', ' ')}, {asked(one)}"


def asked(one: DrillFigure) -> str:
    """The sort of a drill, its degree as the room calls it; records keep the figure."""
    first, _, rest = one.kind.partition(" ")
    return f"degree {one.degree} {rest.partition(' ')[2]}" if first == "degree" else one.kind


def result(one: DrillFigure) -> str:
    """What came of it, in words."""
    if one.right is not None:
        verb = "held" if one.drill == "match" else "right"
        return f"{one.right} of {one.count} {verb}, in {one.seconds:.1f} s"
    if one.middle is None:
        return "–"
    return f"{off_words(one)}{'' if one.beats is None else f', {one.beats:.1f} beats/s'}"


def off_words(one: DrillFigure) -> str:
    """The middle in a player's words: "3 cents sharp", "2 dB soft"."""
    off = one.middle or 0.0
    if one.drill == "balance":
        whole = abs(round(off))
        return f"{whole} dB {'loud' if off > 0 else 'soft'}" if whole else "at its level"
    return sharp_or_flat(off)


def _half(one: DrillFigure) -> str:
    if one.low is None or one.high is None:
        return "–"
    return f"{signed(one.low)} to {signed(one.high)} {'dB' if one.drill == 'balance' else 'cents'}"


def _sure(one: DrillFigure) -> str:
    unit = UNITS.get(one.drill, OTHER)
    if one.right is not None:
        if one.count < ENOUGH:
            return TOO_FEW
        share = f"{one.least:.0f} to {one.most:.0f} {unit.followed}"
        if one.drill != "which-is-it":
            return share
        return f"{share}; guessing does it in {guess_text(one)}"
    if one.sure is None:
        return TOO_FEW
    return f"{signed(one.sure[0])} to {signed(one.sure[1])} {unit.unit}"


def guess_text(one: DrillFigure) -> str:
    """How often who guesses has so many right, in per cent."""
    share = 100.0 * guessed(one.right or 0, one.count)
    return "under 1 %" if share < 1.0 else f"{share:.0f} %"


def _earlier(one: DrillFigure, rehearsal: Rehearsal) -> list[tuple[int, PastDrill]]:
    """The same drill of the same group in earlier rehearsals, the oldest first."""
    name = (one.group, one.drill, one.kind)
    found = [
        (past.number, then)
        for past in rehearsal.past
        for then in past.drills
        if (then.group, then.drill, then.kind) == name and then.value is not None
    ]
    return found[-MOST_BEFORE:]


def _before(one: DrillFigure, rehearsal: Rehearsal) -> str:
    """Against the last time, and whether that is more than chance."""
    earlier = _earlier(one, rehearsal)
    if not earlier or one.value is None:
        return "–"
    unit = UNITS.get(one.drill, OTHER)
    number, then = earlier[-1]
    change = differs(one, then)
    told = f"{then.value:.0f} {unit.followed} in {number}, now {one.value:.0f}"
    if not change:
        return f"{told}: {TOO_FEW if one.least is None or then.least is None else 'no sure difference'}"
    return f"{told}: {'better' if (change < 0) == unit.less else 'further off' if unit.less else 'less'}"


def _picture(place: int, one: DrillFigure, earlier: Sequence[tuple[int, PastDrill]]) -> str:
    """The followed figure from rehearsal to rehearsal, with the interval that it surely lies in."""
    if not earlier or one.value is None:
        return ""
    unit = UNITS.get(one.drill, OTHER)
    now = PastDrill(one.group, one.drill, one.kind, one.count, one.value, one.least, one.most)
    told = [*((str(number), then) for number, then in earlier), ("now", now)]
    reach = max(1.0, *(then.most if then.most is not None else then.value or 0.0 for _, then in told))
    step = (WIDTH - 2 * SIDE) / (len(told) - 1)

    def height(value: float) -> float:
        return TOP + (HEIGHT - TOP - FOOT) * (1.0 - value / reach)

    points = [(SIDE + step * index, name, then) for index, (name, then) in enumerate(told)]
    line = "L".join(f"{x:.1f} {height(then.value or 0.0):.1f}" for x, _, then in points)
    body = [f'<path class="course" d="M{line}"/>']
    for x, name, then in points:
        body += _point(x, name, then, height)
    spoken = "; ".join(f"{name}: {_spoken(then, unit)}" for _, name, then in points)
    title = f"{one.group}, {one.drill.replace('-', ' ')}, {asked(one)}"
    drawn = picture(f"drill-{place}", WIDTH, HEIGHT, f"{title}. {spoken}.", body, "trend")
    return f"<figure><figcaption>{escape(title)}: {escape(unit.followed)}</figcaption>{drawn}</figure>"


def _point(x: float, name: str, then: PastDrill, height: Callable[[float], float]) -> list[str]:
    """A dot, its interval as a line, and what it is called; filled: this rehearsal."""
    drawn = []
    if then.least is not None and then.most is not None:
        drawn.append(f'<path class="target" d="M{x:.1f} {height(then.most):.1f}V{height(then.least):.1f}"/>')
    kind = "now" if name == "now" else "then"
    y = height(then.value or 0.0)
    drawn.append(f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="4"/>')
    drawn.append(f'<text class="count" x="{x:.1f}" y="{HEIGHT - 4}">{escape(name)}</text>')
    drawn.append(f'<text class="count" x="{x:.1f}" y="{TOP - 6}">{then.value or 0.0:.0f}</text>')
    return drawn


def _spoken(then: PastDrill, unit: _Unit) -> str:
    value = f"{then.value or 0.0:.0f} {unit.followed}, {counted(then.count, 'round')}"
    if then.least is None or then.most is None:
        return f"{value}, {TOO_FEW}"
    return f"{value}, surely {then.least:.0f} to {then.most:.0f}"
