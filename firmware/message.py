"""One line that the screen may show, as a value."""

from __future__ import annotations

import string
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Message:
    """One message.

    Parameters
    ----------
    code : str
        Its name in events and errors.
    line : str
        What the strip shows; {gaps} are filled with values.
    bare : str
        What it shows when a gap has no value; the same as `line` when there are no gaps.
    sentence : str
        The whole of it for report.txt, without gaps; details are written beside it.
    widest : tuple of (str, str)
        For every gap the widest value that is shown whole; a longer one is cut to as many characters.
    """

    code: str
    line: str
    sentence: str
    bare: str = ""
    widest: tuple[tuple[str, str], ...] = ()

    @property
    def gaps(self) -> tuple[str, ...]:
        """Names of the gaps in the line."""
        return tuple(name for _, name, _, _ in string.Formatter().parse(self.line) if name)
