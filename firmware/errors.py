"""Errors that name the thing, the value, what is allowed and the way out; each also inherits the matching builtin."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class KeelnoteError(Exception):
    """Anything the box or a command reports to a person.

    Parameters
    ----------
    thing : str
        What was wrong, in the words of the person who set it ("mode", "take-03.flac").
    value : object
        The offending value.
    allowed : str
        What would have been accepted.
    remedy : str
        What to do now.
    message : str
        Name of the line in `firmware.messages` that the screen shows.
    """

    message: str = "error"

    def __init__(self, thing: str, value: object, allowed: str, remedy: str = "", message: str | None = None) -> None:
        self.thing = thing
        self.value = value
        self.allowed = allowed
        self.remedy = remedy
        if message is not None:
            self.message = message
        super().__init__(self.text)

    @property
    def text(self) -> str:
        """The whole error as one line for a terminal or report.txt."""
        tail = f" {self.remedy}" if self.remedy else ""
        return f"{self.thing} {self.value!r} is not accepted: {self.allowed}.{tail}"


class UnknownNameError(KeelnoteError, LookupError):
    """A name that is in none of our tables."""

    message = "unknown-name"

    def __init__(self, thing: str, value: object, names: Iterable[str], message: str | None = None) -> None:
        self.names = tuple(names)
        near = difflib.get_close_matches(str(value), self.names, n=1)
        remedy = f"Did you mean {near[0]!r}?" if near else ""
        super().__init__(thing, value, "choose from " + ", ".join(self.names), remedy, message)


class OutOfRangeError(KeelnoteError, ValueError):
    """A number outside its range."""

    message = "out-of-range"


class BadFileError(KeelnoteError, ValueError):
    """A file that can't be used as what it was offered for."""

    message = "bad-file"


class BadEntryError(BadFileError):
    """One entry of a text file: its line and key are named."""

    message = "bad-entry"

    def __init__(self, source: str, line: int, key: str, value: object, allowed: str, remedy: str = "") -> None:
        self.source = source
        self.line = line
        self.key = key
        super().__init__(f"{source}, line {line}: {key}", value, allowed, remedy)


class DeviceError(KeelnoteError, OSError):
    """A device that is missing, was pulled out or refuses."""

    message = "device"
