"""What the self-test can find: for each fault a line for the OLED, a sentence, and what to do."""

from __future__ import annotations

import string
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from firmware.messages import shortened
from firmware.selftest.kind import Kind
from firmware.selftest.kinds import KINDS


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault of this box; `values` fill the gaps of its kind."""

    code: str
    values: tuple[tuple[str, str], ...] = ()

    @property
    def kind(self) -> Kind:
        """What is said of such a fault."""
        return BY_CODE[self.code]

    @property
    def line(self) -> str:
        """What the OLED shows."""
        given = dict(self.values)
        return capital(self.kind.line.format_map({gap: shortened(given[gap], wide) for gap, wide in self.kind.widest}))

    @property
    def sentence(self) -> str:
        """What is wrong and what to do, for report.txt and a terminal."""
        given = dict(self.values)
        return f"{capital(self.kind.what.format_map(given))} {capital(self.kind.remedy.format_map(given))}"


BY_CODE: Final[Mapping[str, Kind]] = {kind.code: kind for kind in KINDS}


def found(code: str, **values: str | float) -> Finding:
    """A finding, its values as text."""
    return Finding(code, tuple((name, str(value)) for name, value in values.items()))


def capital(text: str) -> str:
    """The same with a capital at its beginning."""
    return text[:1].upper() + text[1:]


def gaps(text: str) -> frozenset[str]:
    """Names of the gaps in a text."""
    return frozenset(name for _, name, _, _ in string.Formatter().parse(text) if name)
