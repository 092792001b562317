"""Directions and bar lines of a MusicXML score while they are read: tempos, words, marks, the order of playing."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Final

from firmware.plan.musicxml_direction import NOTE_VALUES, Direction
from firmware.plan.musicxml_gather import Found
from firmware.plan.musicxml_part import PartReader, number_of, whole_of
from firmware.plan.safe_xml import Attributes

MOST_PASSES: Final = 8
"""Times that a repeated section is played at most."""


class Signs:
    """What stands in the directions and bar lines of the part that is being read."""

    def __init__(self, found: Found, part: Callable[[], PartReader | None]) -> None:
        self._found = found
        self._part = part
        self._said: Direction | None = None
        self._alone = False
        """Whether the direction is a <sound> outside of any."""
        self._at_right = False
        self._in_bar_line = False

    def starts(self) -> dict[str, Callable[[Attributes], object]]:
        """What is called where elements begin."""
        return {
            "direction": lambda _: self._begin(alone=False),
            "sound": self._sound,
            "metronome": lambda _: self._metronome(),
            "beat-unit-dot": lambda _: self._dot(),
            "segno": lambda _: self._sign("segno"),
            "coda": lambda _: self._sign("coda"),
            "barline": self._bar_line,
            "repeat": self._repeat,
            "ending": self._ending,
        }

    def ends(self) -> dict[str, Callable[[str], object]]:
        """What is called where elements end."""
        return {
            "words": self._words,
            "rehearsal": self._rehearsal,
            "beat-unit": self._beat_unit,
            "per-minute": self._per_minute,
            "offset": self._offset,
            "direction": lambda _: self._end(),
            "sound": lambda _: self._end() if self._alone else None,
            "bar-style": self._bar_style,
            "barline": lambda _: self._bar_line_ends(),
        }

    def _begin(self, *, alone: bool) -> None:
        self._said, self._alone = Direction(), alone

    def _sound(self, attributes: Attributes) -> None:
        if self._said is None:
            self._begin(alone=True)
        if self._said is not None:
            self._said.sound = {**self._said.sound, **attributes}

    def _metronome(self) -> None:
        if self._said is not None:
            self._said.units = []

    def _dot(self) -> None:
        if self._said is not None:
            self._said.dot()

    def _beat_unit(self, text: str) -> None:
        if self._said is not None and text in NOTE_VALUES:
            self._said.units.append(NOTE_VALUES[text])

    def _per_minute(self, text: str) -> None:
        if self._said is not None:
            self._said.per_minute = text

    def _words(self, text: str) -> None:
        if self._said is not None:
            self._said.words.append(text)

    def _rehearsal(self, text: str) -> None:
        if self._said is not None:
            self._said.marks.append(text)

    def _offset(self, text: str) -> None:
        if self._said is not None:
            self._said.offset = number_of(text) or Fraction(0)

    def _end(self) -> None:
        said, self._said, self._alone = self._said, None, False
        part = self._part()
        if part is not None and said is not None:
            self._found.direct(part.place(said.offset), said)

    def _sign(self, name: str) -> None:
        part = self._part()
        if self._said is not None:
            self._said.signs.add(name)
        elif part is not None and self._in_bar_line:
            self._found.turn(part.bar, **{name: True})

    def _bar_line(self, attributes: Attributes) -> None:
        self._in_bar_line = True
        self._at_right = attributes.get("location", "right") == "right"

    def _bar_line_ends(self) -> None:
        self._in_bar_line = False

    def _bar_style(self, style: str) -> None:
        part = self._part()
        if part is not None and self._at_right and style == "light-heavy":
            self._found.turn(part.bar, final=True)

    def _repeat(self, attributes: Attributes) -> None:
        part = self._part()
        if part is None or not self._in_bar_line:
            return
        if attributes.get("direction") == "forward":
            self._found.turn(part.bar, forward=True)
        else:
            passes = whole_of(attributes.get("times", "2")) or 2
            self._found.turn(part.bar, backward=min(max(passes, 2), MOST_PASSES))

    def _ending(self, attributes: Attributes) -> None:
        part = self._part()
        if part is not None:
            self._found.ending(part.bar, attributes)
