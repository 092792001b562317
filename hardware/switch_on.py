"""What the box finds on the stick when it is switched on: settings, plan, grooves, number of this rehearsal."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from firmware.errors import KeelnoteError
from firmware.messages import sentence_of
from firmware.parts.part import Start
from firmware.plan.plan import Plan
from firmware.ports import Stick
from firmware.settings import DEFAULTS, Values, read_settings
from hardware.drivers.history import earlier
from hardware.drivers.kept_settings import Kept, kept_settings
from hardware.drivers.take_eraser import erase_old
from hardware.own_tunings import tunings_on
from hardware.plan_reader import plan_on, plans_on
from hardware.rhythms import rhythms_on

REHEARSALS: Final = "rehearsals"
REPORT: Final = "report.txt"

NUMBERED: Final = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class Found:
    """The start of the box, and a line for report.txt for everything that could not be used."""

    start: Start
    report: tuple[str, ...] = ()


def switch_on(stick: Stick, date: str = "") -> Found:
    """Look through the stick; what is broken there is reported and left out, and the box starts anyway.

    Parameters
    ----------
    stick
        The stick; an absent one gives the defaults.
    date
        Today as it shall be shown, empty when the box has no clock.
    """
    mended = _mended(stick)
    values, bad_settings, before = _settings(stick)
    plans, path, plan, bad_plan = _plan(stick, values.text("note_names"))
    rhythms, bad_rhythms = rhythms_on(stick)
    tunings, bad_tunings = tunings_on(stick)
    found = (
        ("take-mended", mended),
        ("stick-odd", tuple(f"{name} on the stick is no file or folder of the box" for name in stick.odd())),
        ("settings-before", before),
        *_expired(stick, date, values.whole("keep_days")),
        ("setting-bad", tuple(problem.text for problem in bad_settings)),
        ("plan-bad", bad_plan),
        ("groove-bad", tuple(problem.text for problem in bad_rhythms)),
        ("tuning-bad", tuple(problem.text for problem in bad_tunings)),
    )
    notices = tuple(code for code, lines in found if lines)
    number = _next_number(stick)
    past = earlier(stick, REHEARSALS, number)
    start = Start(values, plan, number, date, stick.present, notices, rhythms, past, plans, tunings, path)
    return Found(start, tuple(line for _, lines in found for line in lines))


def report(stick: Stick, lines: tuple[str, ...]) -> None:
    """Add lines to report.txt, or leave it when the stick takes none."""
    try:
        for line in lines:
            stick.append_line(REPORT, line)
    except KeelnoteError:
        return


def _read(stick: Stick, path: str) -> tuple[str | None, tuple[KeelnoteError, ...]]:
    try:
        return stick.read_text(path), ()
    except KeelnoteError as error:
        return None, (error,)


def _mended(stick: Stick) -> tuple[str, ...]:
    try:
        return tuple(f"{name} was cut off and is mended" for name in stick.mend())
    except KeelnoteError as error:
        return (error.text,)


def _expired(stick: Stick, date: str, keep_days: int) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Delete the takes that are older than they are kept, and say so; without a date none is."""
    if not keep_days or not stick.present:
        return ()
    if not date:
        return (("keep-no-date", (sentence_of("keep-no-date"),)),)
    erased = erase_old(stick, date, keep_days)
    gone = tuple(f"{folder}: take {number} was older than {keep_days} days" for folder, number in sorted(erased.takes))
    return (("takes-expired", (*gone, *erased.refused)),)


def _settings(stick: Stick) -> tuple[Values, tuple[KeelnoteError, ...], tuple[str, ...]]:
    """Settings, what is bad in them, and why they are not the last ones that were saved."""
    kept = kept_settings(stick) if stick.present else Kept(None)
    why = (kept.why,) if kept.why else ()
    if kept.text is None:
        return DEFAULTS, (), why
    values, problems = read_settings(kept.text, kept.source)
    return values, problems, why


def _plan(stick: Stick, names: str) -> tuple[tuple[str, ...], str, Plan, tuple[str, ...]]:
    """Read the first plan by name, or the first score if there is no plan; the others can be chosen on the panel."""
    plans = plans_on(stick)
    if not plans:
        return (), "", Plan(), ()
    plan, problems = plan_on(stick, plans[0], names)
    return plans, plans[0], plan or Plan(), problems


def _names(stick: Stick, folder: str) -> tuple[str, ...]:
    try:
        return stick.names(folder)
    except KeelnoteError:
        return ()


def _next_number(stick: Stick) -> int:
    """Give one more than the highest number so far, so that no rehearsal is ever written over."""
    found = (NUMBERED.match(name) for name in _names(stick, REHEARSALS))
    return 1 + max((int(match.group()) for match in found if match), default=0)
