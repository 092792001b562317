"""Reading TOML that may be broken in places: what is not TOML is named and passed over, the rest still counts."""

from __future__ import annotations

import re
import tomllib
from typing import Any, Final

from firmware.errors import BadEntryError
from firmware.plan.toml_lines import Statement, statements

_PLACE: Final = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_MOST_PROBLEMS: Final = 40


def read_toml(text: str, source: str) -> tuple[dict[str, Any], str, tuple[BadEntryError, ...]]:
    """Read a text: what it holds, the text with broken statements blanked (lines keep their numbers), the problems.

    After 40 problems nothing of the file is used.
    """
    text = text.replace("\r\n", "\n")
    problems: list[BadEntryError] = []
    while len(problems) < _MOST_PROBLEMS:
        try:
            return tomllib.loads(text), text, tuple(problems)
        except (ValueError, RecursionError) as error:
            broken = _broken_statement(text, error)
            problems.append(_problem(text, source, error, broken.first))
            text = _blank(text, broken)
    return {}, "", tuple(problems)


def _broken_statement(text: str, error: Exception) -> Statement:
    """Find the statement that the reader stumbled over."""
    found = list(statements(text))
    whole = Statement(1, text.count("\n") + 1)
    place = _PLACE.search(str(error))
    if place is None:  # too many digits, nested too deep: the reader does not say where
        return next((each for each in found if not _reads(text, each)), whole)
    if place[1] is None:
        return found[-1] if found else whole
    line = int(place[1])
    before = [each for each in found if each.first <= line]
    if before and (line <= before[-1].last or not before[-1].closed):
        return before[-1]
    return Statement(line, line)  # a control character in a comment, say


def _reads(text: str, statement: Statement) -> bool:
    try:
        tomllib.loads("\n".join(text.split("\n")[statement.first - 1 : statement.last]))
    except (ValueError, RecursionError):
        return False
    return True


def _blank(text: str, broken: Statement) -> str:
    """Blank a statement: one that is never closed on its first line only, a header with all that stands under it."""
    last = broken.last if broken.closed else broken.first
    if broken.header:
        after = [each.first for each in statements(text) if each.header and each.first > broken.first]
        last = after[0] - 1 if after else text.count("\n") + 1
    lines = text.split("\n")
    lines[broken.first - 1 : last] = [""] * (last - broken.first + 1)
    return "\n".join(lines)


def _problem(text: str, source: str, error: Exception, line: int) -> BadEntryError:
    words = str(error)
    place = _PLACE.search(words)
    reason = words[: place.start()] if place else words
    if isinstance(error, RecursionError):
        reason = "nested too deep"
    key = "syntax"
    if place is not None and place[1] is not None:
        line = int(place[1])
        key = f"column {place[2]}"
    lines = text.split("\n")
    shown = lines[line - 1].strip()[:60] if line <= len(lines) else ""
    return BadEntryError(source, line, key, shown, f"this is not TOML, {reason[:1].lower()}{reason[1:]}", "Mend it.")
