"""What the box finds on the stick when it is switched on: settings, plan, grooves, number of this rehearsal."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from firmware.errors import KeelnoteError
from firmware.parts.part import Start
from firmware.plan.plan import Plan, read_plan
from firmware.ports import Stick
from firmware.settings import DEFAULTS, Values, read_settings
from hardware.drivers.history import earlier
from hardware.rhythms import rhythms_on

SETTINGS: Final = "settings.toml"
PLANS: Final = "plans"
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
    values, bad_settings = _settings(stick)
    plan, bad_plan = _plan(stick)
    rhythms, bad_rhythms = rhythms_on(stick)
    found = (("setting-bad", bad_settings), ("plan-bad", bad_plan), ("groove-bad", bad_rhythms))
    notices = [code for code, problems in found if problems]
    number = _next_number(stick)
    past = earlier(stick, REHEARSALS, number)
    start = Start(values, plan, number, date, stick.present, tuple(notices), rhythms, past)
    return Found(start, tuple(problem.text for _, problems in found for problem in problems))


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


def _settings(stick: Stick) -> tuple[Values, tuple[KeelnoteError, ...]]:
    if not stick.present:
        return DEFAULTS, ()
    text, errors = _read(stick, SETTINGS)
    if text is None:
        return DEFAULTS, errors
    values, problems = read_settings(text, SETTINGS)
    return values, problems


def _plan(stick: Stick) -> tuple[Plan, tuple[KeelnoteError, ...]]:
    """Read the first plan by name: with several on the stick, its name decides."""
    first = next((name for name in _names(stick, PLANS) if name.endswith(".toml")), None)
    if first is None:
        return Plan(), ()
    text, errors = _read(stick, f"{PLANS}/{first}")
    if text is None:
        return Plan(), errors
    plan, problems = read_plan(text, f"{PLANS}/{first}")
    return plan, problems


def _names(stick: Stick, folder: str) -> tuple[str, ...]:
    try:
        return stick.names(folder)
    except KeelnoteError:
        return ()


def _next_number(stick: Stick) -> int:
    """Give one more than the highest number so far, so that no rehearsal is ever written over."""
    found = (NUMBERED.match(name) for name in _names(stick, REHEARSALS))
    return 1 + max((int(match.group()) for match in found if match), default=0)
