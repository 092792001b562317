"""The user's own grooves, written in TOML: a file of this kind in the folder grooves of the stick.

::

    title = "Quay Street"
    meter = "3/4"
    steps = 2            # letters to a beat
    swing = "eighths"    # only if pairs of them swing

    [[line]]
    sound = "bass"
    pattern = "X. .. .. | X. .. x."

    [[line]]
    sound = "wood"
    pattern = ".. xo xo"

X is accented, x plain, o soft, "." a rest; spaces and | only help the eye. The shorter line is gone through again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from firmware.errors import BadEntryError, OutOfRangeError
from firmware.music.groove import MOST_STEPS, Groove, groove_of
from firmware.music.kit import SOUNDS
from firmware.music.meter import parse_meter
from firmware.plan.checked_toml import Entry, Section, check

LONGEST_PATTERN: Final = 20_000


def _meter(text: str) -> str:
    return parse_meter(text).text


LINE_TABLE: Final = (
    Entry("sound", SOUNDS, required=True, help="one of the box's sounds"),
    Entry("pattern", str, 1, LONGEST_PATTERN, required=True, help="X accented, x plain, o soft, . a rest"),
)
GROOVE_TABLE: Final = (
    Entry("title", str, 1, 40, default="", help="what the screen calls it"),
    Entry("meter", str, 1, 40, default="4/4", convert=_meter, help="meter of its bars"),
    Entry("steps", int, 1, MOST_STEPS, default=4, help="letters to a beat"),
    Entry("swing", ("eighths", "sixteenths"), default="", help="pairs of notes that swing"),
    Section("line", LINE_TABLE, many=True),
)


def read_groove(text: str, source: str, name: str) -> tuple[Groove | None, tuple[BadEntryError, ...]]:
    """Read a groove from a TOML text; None with the reasons if anything in it is wrong. Nothing is raised.

    A groove with a part missing would teach a wrong pattern, so it is used whole or not at all.
    """
    checked = check(text, source, GROOVE_TABLE)
    problems = list(checked.problems)
    values = checked.values
    for line in values["line"]:
        problem = _broken(line, values, source)
        if problem is not None:
            problems.append(problem)
    if not problems and not values["line"]:
        problems.append(BadEntryError(source, 1, "line", "(nothing)", "at least one [[line]] table"))
    if problems:
        return None, tuple(problems)
    try:
        return _made(values, name, values["line"]), ()
    except OutOfRangeError as error:
        return None, (BadEntryError(source, values["line"][0]["line"], "line.pattern", error.value, error.allowed),)


def _made(values: Mapping[str, Any], name: str, lines: tuple[Mapping[str, Any], ...]) -> Groove:
    pairs = [(line["sound"], line["pattern"]) for line in lines]
    return groove_of(name, values["title"] or name, values["meter"], values["steps"], pairs, values["swing"])


def _broken(line: Mapping[str, Any], values: Mapping[str, Any], source: str) -> BadEntryError | None:
    try:
        _made(values, "", (line,))
    except OutOfRangeError as error:
        return BadEntryError(source, line["line"], "line.pattern", error.value, error.allowed)
    return None
