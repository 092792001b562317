"""TOML text checked against a table of entries; every problem names its line, its key and what is allowed."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from firmware.errors import BadEntryError, KeelnoteError
from firmware.plan.toml_lines import KeyPath, line_of, line_table
from firmware.plan.toml_salvage import read_toml

Kind = type[str] | type[int] | type[float] | type[bool] | tuple[str | int | float, ...]
"""What an entry may hold: text, a whole number, a number, true or false, or one of some choices."""

_LONGEST_SHOWN: Final = 60


class _Nothing:
    """Stands in a message for a value that is missing."""

    def __repr__(self) -> str:
        return "(nothing)"


_NOTHING: Final = _Nothing()


@dataclass(frozen=True, slots=True)
class Entry:
    """One key of a table.

    `low` and `high` bound numbers, and the length of text. `convert` turns a value that has the right type into what
    the caller wants; a KeelnoteError or ValueError that it raises becomes a problem. `default` is used as it stands.
    """

    key: str
    kind: Kind
    low: float | None = None
    high: float | None = None
    default: Any = None
    required: bool = False
    help: str = ""
    convert: Callable[[Any], Any] | None = None

    @property
    def allowed(self) -> str:
        """What may be written, in words."""
        if isinstance(self.kind, tuple):
            return "choose from " + ", ".join(str(choice) for choice in self.kind)
        if self.kind in (int, float):
            return ("a whole number" if self.kind is int else "a number") + _range_words(self.low, self.high)
        if self.kind is bool:
            return "true or false"
        bounds = _range_words(self.low, self.high)
        return "text in quotes" + (f", length{bounds}" if bounds else "")


@dataclass(frozen=True, slots=True)
class Section:
    """A table inside a table, `[key]`; with `many` a list of them, `[[key]]`."""

    key: str
    table: tuple[Entry | Section, ...]
    many: bool = False
    required: bool = False
    help: str = ""


Table = tuple[Entry | Section, ...]


@dataclass(frozen=True, slots=True)
class Checked:
    """Values by key, every key of the table present, and what was wrong.

    A wrong value falls back to its default alone. A `[key]` section is a dict, a `[[key]]` section a tuple of dicts
    from which elements with a missing or wrong required entry are left out. Each dict of a section holds the line
    where it begins under the key `line` (unless the table has a key of that name).
    """

    values: dict[str, Any]
    problems: tuple[BadEntryError, ...]


def check(text: str, source: str, table: Table) -> Checked:
    """Check a TOML text; `source` is the name of the file for the problems. Never raises, whatever the text.

    A statement that is not TOML is a problem, and is passed over; the others still count.
    """
    data, mended, problems = read_toml(text, source)
    checker = _Checker(source, line_table(mended), problems)
    values, _ = checker.table(data, table, ())
    return Checked(values, tuple(sorted(checker.problems, key=lambda problem: problem.line)))


def decode(data: bytes, source: str) -> tuple[str, tuple[BadEntryError, ...]]:
    """Text of a file's bytes: UTF-8, or UTF-16 if it begins with a byte order mark.

    Bytes that are neither become U+FFFD, and are a problem that names the first such line.
    """
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    encoding = "utf-16" if marked else "utf-8-sig"
    try:
        return data.decode(encoding), ()
    except UnicodeDecodeError as error:
        line = data[: error.start].decode(encoding, "replace").count("\n") + 1
        bad = data[error.start : error.start + 4]
        problem = BadEntryError(source, line, "encoding", bad, "text in UTF-8", "Save the file as UTF-8.")
        return data.decode(encoding, "replace"), (problem,)


class _Checker:
    """One pass over one file."""

    def __init__(self, source: str, lines: dict[KeyPath, int], problems: tuple[BadEntryError, ...]) -> None:
        self.source = source
        self.lines = lines
        self.problems = list(problems)

    def report(self, path: KeyPath, value: object, allowed: str, remedy: str = "") -> None:
        key = ".".join(part for part in path if isinstance(part, str))
        line = line_of(self.lines, path)
        self.problems.append(BadEntryError(self.source, line, key, _shown(value), allowed, remedy))

    def table(self, data: Mapping[str, object], table: Table, path: KeyPath) -> tuple[dict[str, Any], bool]:
        """Values of one table, and whether all that is required is there and right."""
        complete = True
        values: dict[str, Any] = {"line": line_of(self.lines, path)} if path else {}
        for item in table:
            if isinstance(item, Section):
                values[item.key], good = self.section(data, item, path)
            else:
                values[item.key], good = self.entry(data, item, path)
            complete = complete and good
        names = [item.key for item in table]
        for key in data:
            if key not in names:
                self.unknown(key, data[key], names, path)
        return values, complete

    def unknown(self, key: str, value: object, names: list[str], path: KeyPath) -> None:
        near = difflib.get_close_matches(key, names, n=3)
        remedy = f"Did you mean {' or '.join(near)}?" if near else "Remove it."
        self.report((*path, key), value, "unknown key, the keys here are " + ", ".join(names), remedy)

    def entry(self, data: Mapping[str, object], entry: Entry, path: KeyPath) -> tuple[Any, bool]:
        here = (*path, entry.key)
        if entry.key not in data:
            if entry.required:
                self.report(here, _NOTHING, f"it can't be left out: {entry.allowed}", entry.help)
            return entry.default, not entry.required
        value = data[entry.key]
        if not _fits(value, entry):
            self.report(here, value, entry.allowed, _nearest(value, entry))
            return entry.default, not entry.required
        if entry.kind is float:
            value = float(value)  # type: ignore[arg-type]  # _fits let only finite numbers through
        if entry.convert is None:
            return value, True
        try:
            return entry.convert(value), True
        except KeelnoteError as error:
            self.report(here, value, error.allowed, error.remedy)
        except ValueError as error:
            self.report(here, value, str(error))
        return entry.default, not entry.required

    def section(self, data: Mapping[str, object], section: Section, path: KeyPath) -> tuple[Any, bool]:
        here = (*path, section.key)
        found = data.get(section.key)
        if found is None:
            if section.required:
                self.report(here, _NOTHING, f"it can't be left out: a {_header(here, section)} table", section.help)
            return (() if section.many else self.table({}, _unrequired(section.table), here)[0]), not section.required
        if section.many:
            return self.elements(found, section, here), True
        if not isinstance(found, dict):
            self.report(here, found, f"a table, written {_header(here, section)}")
            return self.table({}, _unrequired(section.table), here)[0], not section.required
        return self.table(found, section.table, here)

    def elements(self, found: object, section: Section, here: KeyPath) -> tuple[dict[str, Any], ...]:
        if not isinstance(found, list):
            self.report(here, found, f"a list of tables, each written {_header(here, section)}")
            return ()
        kept = []
        for index, element in enumerate(found):
            if not isinstance(element, dict):
                self.report((*here, index), element, f"a table, written {_header(here, section)}")
                continue
            values, complete = self.table(element, section.table, (*here, index))
            if complete:
                kept.append(values)
        return tuple(kept)


def _unrequired(table: Table) -> Table:
    """Make the table that gives an absent section its defaults: the same with nothing required."""
    return tuple(
        Section(item.key, _unrequired(item.table), item.many)
        if isinstance(item, Section)
        else Entry(item.key, item.kind, default=item.default)
        for item in table
    )


def _header(path: KeyPath, section: Section) -> str:
    name = ".".join(part for part in path if isinstance(part, str))
    return f"[[{name}]]" if section.many else f"[{name}]"


def _fits(value: object, entry: Entry) -> bool:
    """Whether a value has the entry's type and lies in its range."""
    if isinstance(entry.kind, tuple):
        return any(type(value) is type(choice) and value == choice for choice in entry.kind)
    if entry.kind is bool:
        return isinstance(value, bool)
    if entry.kind is str:
        return isinstance(value, str) and _within(len(value), entry)
    kinds = int if entry.kind is int else (int, float)
    return isinstance(value, kinds) and not isinstance(value, bool) and _within(value, entry)


def _within(value: float, entry: Entry) -> bool:
    try:
        finite = math.isfinite(value)
    except OverflowError:  # a whole number too large for any float
        return False
    low = -math.inf if entry.low is None else entry.low
    high = math.inf if entry.high is None else entry.high
    return finite and low <= value <= high


def _nearest(value: object, entry: Entry) -> str:
    if not isinstance(entry.kind, tuple):
        return ""
    near = difflib.get_close_matches(str(_shown(value)), [str(choice) for choice in entry.kind], n=1)
    return f"Did you mean {near[0]}?" if near else ""


def _range_words(low: float | None, high: float | None) -> str:
    if low is not None and high is not None:
        return f" from {low:g} to {high:g}"
    if low is not None:
        return f" from {low:g} up"
    return "" if high is None else f" up to {high:g}"


def _shown(value: object) -> object:
    """Make a value fit for a message: never long, and never one that Python refuses to print."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 10**_LONGEST_SHOWN:
        return "a very long number"
    if isinstance(value, str) and len(value) > _LONGEST_SHOWN:
        return value[: _LONGEST_SHOWN - 1] + "…"
    return value
