"""MusicXML 4.0 (W3C, 2021), as much of it as a plan needs, from .musicxml, .xml and .mxl.

Read are both forms, by parts and by measures; titles, keys, time signatures, transpositions, tempo marks and words,
rehearsal marks, repeats, endings, and the signs of da capo and dal segno. The notes count only by their lengths.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Final

from firmware.plan.musicxml_gather import Found, score_of
from firmware.plan.musicxml_part import MOST_BARS, PartReader, number_of, whole_of
from firmware.plan.musicxml_signs import Signs
from firmware.plan.mxl import pieces_of
from firmware.plan.safe_xml import Attributes, XmlReader
from firmware.plan.score import Score

MOST_PARTS: Final = 200
MOST_FINDS: Final = 20_000
HOLDERS: Final = ("note", "backup", "forward")
"""Elements whose <duration> moves the place in the bar."""

VALUES: Final = ("fifths", "mode", "diatonic", "chromatic")


def read_musicxml(data: bytes, source: str) -> Score:
    """Read a score from the bytes of its file.

    Raises
    ------
    BadFileError
        If it is no MusicXML score, is damaged, defines entities of its own, or is too large; the line is named.
    """
    return _Reader(source).read(data)


class _Reader:
    """One pass over one file: parts, bars, lengths, attributes, titles; the rest is left to `Signs`."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.found = Found()
        self.names: dict[str, str] = {}
        self.parts: dict[str, PartReader] = {}
        self.titles: dict[str, str] = {}
        self.part: PartReader | None = None
        self.declared = ""
        self.by_bars = False
        self.rooted = False
        self.measure: Attributes = {}
        self.holder = ""
        self.in_chord = False
        self.values: dict[str, str] = {}
        self.staff = ""
        self.beats = ""
        self.pairs: list[tuple[str, str]] = []
        self.credited = ""
        signs = Signs(self.found, lambda: self.part)
        self.xml = XmlReader(source, self.starts() | signs.starts(), self.ends() | signs.ends())

    def starts(self) -> dict[str, Callable[[Attributes], object]]:
        """What is called where elements begin."""
        return {
            "score-partwise": lambda _: self.root(by_bars=False),
            "score-timewise": lambda _: self.root(by_bars=True),
            "score-part": self.declare,
            "part": self.part_begins,
            "measure": self.measure_begins,
            **{name: self.holds(name) for name in HOLDERS},
            "chord": lambda _: self.chord(),
            "key": self.staff_begins,
            "time": self.staff_begins,
            "transpose": lambda _: self.values.clear(),
        }

    def ends(self) -> dict[str, Callable[[str], object]]:
        """What is called where elements end."""
        return {
            "work-title": lambda text: self.titles.setdefault("work", text),
            "movement-title": lambda text: self.titles.setdefault("movement", text),
            "credit-type": self.credit_type,
            "credit-words": self.credit,
            "part-name": self.part_name,
            "part": lambda _: self.part_ends(),
            "measure": lambda _: self.measure_ends(),
            **{name: lambda _: self.let_go() for name in HOLDERS},
            "duration": self.duration,
            "divisions": self.divisions,
            **{name: self.valued(name) for name in VALUES},
            "key": lambda _: self.key_ends(),
            "transpose": lambda _: self.transpose_ends(),
            "beats": self.beats_of,
            "beat-type": self.beat_type,
            "interchangeable": lambda _: self.first_meter(),
            "time": lambda _: self.time_ends(),
            "sign": self.clef,
            "attributes": lambda _: self.attributes_end(),
        }

    def read(self, data: bytes) -> Score:
        """Read the file, then put together what all parts say."""
        self.xml.read(pieces_of(data, self.source))
        if not self.rooted:
            raise self.xml.wrong("the document", "a MusicXML score, by parts or by measures", line=1)
        if not any(part.lengths for part in self.parts.values()):
            raise self.xml.wrong("no measures", "a score with at least one measure", line=1)
        title = next((self.titles[name] for name in ("movement", "work", "credit") if self.titles.get(name)), "")
        return score_of(" ".join(title.split()), tuple(self.parts.values()), self.found)

    # --- parts and bars

    def root(self, *, by_bars: bool) -> None:
        self.rooted, self.by_bars = True, by_bars

    def declare(self, attributes: Attributes) -> None:
        self.declared = attributes.get("id", "")

    def part_name(self, text: str) -> None:
        self.names[self.declared] = " ".join(text.split())

    def part_begins(self, attributes: Attributes) -> None:
        name = attributes.get("id", "")
        if name not in self.parts and len(self.parts) >= MOST_PARTS:
            raise self.xml.wrong("more", f"at most {MOST_PARTS} parts")
        self.part = self.parts.setdefault(name, PartReader(self.names.get(name, name)))
        if self.by_bars:
            self.bar_begins(self.part, self.measure)

    def part_ends(self) -> None:
        if self.by_bars and self.part:
            self.part.end_bar()
        self.part = None

    def measure_begins(self, attributes: Attributes) -> None:
        self.measure = attributes
        if self.part and not self.by_bars:
            self.bar_begins(self.part, attributes)

    def measure_ends(self) -> None:
        if self.part and not self.by_bars:
            self.part.end_bar()

    def bar_begins(self, part: PartReader, attributes: Attributes) -> None:
        if part.bar + 1 >= MOST_BARS:
            raise self.xml.wrong("more", f"at most {MOST_BARS} measures")
        if self.found.size > MOST_FINDS:
            raise self.xml.wrong("more", f"at most {MOST_FINDS} tempo marks and words")
        part.begin_bar(attributes.get("number", "")[:12])

    # --- lengths

    def holds(self, name: str) -> Callable[[Attributes], object]:
        def hold(_: Attributes) -> None:
            self.holder, self.in_chord = name, False

        return hold

    def let_go(self) -> None:
        self.holder = ""

    def chord(self) -> None:
        self.in_chord = self.holder == "note"

    def duration(self, text: str) -> None:
        if self.part is not None and self.holder and not self.in_chord:
            ticks = number_of(text) or Fraction(0)
            self.part.move(-ticks if self.holder == "backup" else ticks)

    def divisions(self, text: str) -> None:
        if self.part is not None:
            self.part.divide(number_of(text))

    # --- attributes

    def valued(self, name: str) -> Callable[[str], object]:
        def keep(text: str) -> None:
            self.values[name] = text

        return keep

    def staff_begins(self, attributes: Attributes) -> None:
        self.staff = attributes.get("number", "1")
        self.values, self.pairs = {}, []

    def key_ends(self) -> None:
        fifths = whole_of(self.values.get("fifths", ""))
        if self.part is None or self.staff != "1":
            return
        if fifths is None:
            self.found.remark("a key of single accidentals is left out")
        else:
            self.part.write_key(fifths, self.values.get("mode", ""))

    def transpose_ends(self) -> None:
        semitones = whole_of(self.values.get("chromatic", ""))
        if self.part is not None and semitones is not None:
            self.part.transpose(whole_of(self.values.get("diatonic", "")), semitones)

    def attributes_end(self) -> None:
        if self.part is not None:
            self.part.end_attributes()

    def beats_of(self, text: str) -> None:
        self.beats = text

    def beat_type(self, text: str) -> None:
        self.pairs.append((self.beats, text))

    def first_meter(self) -> None:
        """Leave out the second of two meters that may be felt in turn."""
        del self.pairs[1:]

    def time_ends(self) -> None:
        if self.part is not None and self.staff == "1":
            self.found.remark(self.part.write_meter(self.pairs))

    def clef(self, sign: str) -> None:
        if self.part is not None:
            self.part.clefs += 1
            self.part.unpitched = sign == "percussion" and (self.part.clefs == 1 or self.part.unpitched)

    # --- titles

    def credit_type(self, text: str) -> None:
        self.credited = text

    def credit(self, text: str) -> None:
        if self.credited == "title":
            self.titles.setdefault("credit", text)
