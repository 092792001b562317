"""On which line of a TOML text each key stands; Python's own reader does not say."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

KeyPath = tuple[str | int, ...]
"""Keys and places in lists (from 0) from the top of the file down to one value."""

_QUOTES = ("'", '"')


@dataclass(frozen=True, slots=True)
class Statement:
    """One table header or one `key = value`, lines counted from 1.

    `keys` is None where no key can be read; `elements` holds the lines on which the elements of a list begin; `closed`
    is False when a string or a bracket is never ended.
    """

    first: int
    last: int
    keys: tuple[str, ...] | None = None
    header: bool = False
    many: bool = False
    elements: tuple[int, ...] = ()
    closed: bool = True


def statements(text: str) -> Iterator[Statement]:
    """All statements of a text in order. Any text may be given, TOML or not."""
    scanner = _Scanner(text.replace("\r\n", "\n"))
    while scanner.skip_blank():
        yield scanner.header() if scanner.peek() == "[" else scanner.pair()


def line_table(text: str) -> dict[KeyPath, int]:
    """Line of every table, key and list element of a well-formed text; the empty path stands on line 1.

    Keys inside an inline table are not listed: it stands on one line, that of its own key or list element.
    """
    lines: dict[KeyPath, int] = {(): 1}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    for statement in statements(text):
        if statement.keys is None:
            continue
        if statement.header:
            table = _open_table(statement, counts, lines)
            continue
        path = _note_keys(table, statement, lines)
        for index, line in enumerate(statement.elements):
            lines.setdefault((*path, index), line)
    return lines


def line_of(lines: dict[KeyPath, int], path: KeyPath) -> int:
    """Line of a path, or of the nearest thing around it that is listed."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


def _open_table(statement: Statement, counts: dict[KeyPath, int], lines: dict[KeyPath, int]) -> KeyPath:
    """Path of the table that a header opens; `[[x]]` opens the next element of the list x."""
    path: KeyPath = ()
    keys = statement.keys or ()
    for place, key in enumerate(keys):
        path = (*path, key)
        lines.setdefault(path, statement.first)
        if place == len(keys) - 1 and statement.many:
            counts[path] = counts.get(path, 0) + 1
        if path in counts:
            path = (*path, counts[path] - 1)
    lines.setdefault(path, statement.first)
    return path


def _note_keys(table: KeyPath, statement: Statement, lines: dict[KeyPath, int]) -> KeyPath:
    """Enter a dotted key and every table that it opens on the way."""
    path = table
    for key in statement.keys or ():
        path = (*path, key)
        lines.setdefault(path, statement.first)
    return path


def _keys_of(source: str) -> tuple[str, ...] | None:
    """Return the parts of a dotted, perhaps quoted key; the standard reader does the unquoting."""
    try:
        found: object = tomllib.loads(f"{source} = 0")
    except (ValueError, RecursionError):
        return None
    keys: list[str] = []
    while isinstance(found, dict) and found:
        key = next(iter(found))
        keys.append(key)
        found = found[key]
    return tuple(keys)


class _Scanner:
    """A place in a text, and its line."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1

    def peek(self) -> str:
        return self.text[self.at : self.at + 1]

    def move(self, to: int) -> None:
        self.line += self.text.count("\n", self.at, to)
        self.at = to

    def skip_blank(self) -> bool:
        """Move to the next statement; False at the end of the text."""
        while self.at < len(self.text):
            if self.peek() == "#":
                self.move(self.end_of_line())
            elif self.peek() in " \t\n":
                self.move(self.at + 1)
            else:
                return True
        return False

    def end_of_line(self) -> int:
        found = self.text.find("\n", self.at)
        return len(self.text) if found < 0 else found

    def header(self) -> Statement:
        first = self.line
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        source = self.take_key("]")
        self.move(self.end_of_line())
        keys = None if source is None else _keys_of(source)
        return Statement(first, first, keys, header=True, many=many)

    def pair(self) -> Statement:
        first = self.line
        source = self.take_key("=")
        if source is None:
            self.move(self.end_of_line())
            return Statement(first, first)
        elements, closed = self.skip_value()
        return Statement(first, self.line, _keys_of(source), elements=elements, closed=closed)

    def take_key(self, end: str) -> str | None:
        """Source of a key up to `end` on this line, which is passed; None if it does not come."""
        start, stop = self.at, self.end_of_line()
        while self.at < stop and self.peek() != end:
            if self.peek() in _QUOTES:
                self.skip_string()
            else:
                self.at += 1
        if self.at >= stop:
            return None
        self.at += 1
        return self.text[start : self.at - 1]

    def skip_value(self) -> tuple[tuple[int, ...], bool]:
        """Pass a value up to its line end; say where its list elements begin and whether everything was closed."""
        brackets: list[str] = []
        elements: list[int] = []
        closed = waiting = True
        while self.at < len(self.text):
            mark = self.peek()
            if mark == "\n" and not brackets:
                break
            if waiting and brackets == ["["] and mark not in " \t\r\n#]":
                elements.append(self.line)
                waiting = False
            if mark in _QUOTES:
                closed = self.skip_string() and closed
                continue
            if mark == "#":
                self.move(self.end_of_line())
                continue
            if mark in "[{":
                brackets.append(mark)
            elif mark in "]}" and brackets:
                brackets.pop()
            elif mark == "," and brackets == ["["]:
                waiting = True
            self.move(self.at + 1)
        return tuple(elements), closed and not brackets

    def skip_string(self) -> bool:
        """Pass a string of any of the four kinds; False if it is never closed."""
        quote = self.peek()
        long = self.text.startswith(quote * 3, self.at)
        mark = quote * 3 if long else quote
        at = self.at + len(mark)
        stop = len(self.text) if long else self.end_of_line()
        while at < stop and not self.text.startswith(mark, at):
            at += 2 if quote == '"' and self.text[at] == "\\" else 1
        if at >= stop:
            self.move(stop)
            return False
        at += len(mark)
        for _ in range(2 if long else 0):  # two quotes may stand right before the closing three
            at += self.text.startswith(quote, at)
        self.move(at)
        return True
