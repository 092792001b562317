"""From what the parts of a MusicXML score say, each for itself, to one score."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Any

from firmware.music.meter import parse_meter
from firmware.plan.musicxml_direction import Direction
from firmware.plan.musicxml_part import PartReader, whole_of
from firmware.plan.safe_xml import Attributes
from firmware.plan.score import (
    Place,
    Score,
    ScoreBar,
    ScoreKey,
    ScoreMark,
    ScoreMeter,
    ScorePart,
    ScoreTempo,
    Turn,
)
from firmware.plan.tempo_words import first_tempo, tempo_of


class Found:
    """Directions and signs of all parts while they are read; the first part that says something at a place counts."""

    def __init__(self) -> None:
        self.directions: list[tuple[Place, Direction]] = []
        self.marks: dict[Place, str] = {}
        self.turns: dict[int, dict[str, Any]] = {}
        self.remarks: list[str] = []

    @property
    def size(self) -> int:
        """How much is kept."""
        return len(self.directions) + len(self.marks)

    def direct(self, place: Place, said: Direction) -> None:
        """Keep what a direction says."""
        if said.quarters is not None or said.equation is not None or any(said.words):
            self.directions.append((place, said))
        for mark in said.marks:
            if mark:
                self.marks.setdefault(place, " ".join(mark.split())[:40])
        for name in said.turns:
            self.turn(place.bar, **{name: True})

    def turn(self, bar: int, **fields: object) -> None:
        """Keep what a bar does to the order of playing."""
        self.turns.setdefault(bar, {}).update(fields)

    def remark(self, text: str) -> None:
        """Keep what can't be followed, once; an empty text is none."""
        if text and text not in self.remarks:
            self.remarks.append(text)

    def ending(self, bar: int, attributes: Attributes) -> None:
        """Keep the beginning or the end of the bracket over an ending."""
        if attributes.get("type") == "start":
            passes = (whole_of(number.strip()) for number in attributes.get("number", "").replace(".", "").split(","))
            self.turn(bar, endings=tuple(number for number in passes if number), ending_begins=True)
        else:
            self.turn(bar, ending_ends=True)


def score_of(title: str, readers: tuple[PartReader, ...], found: Found) -> Score:
    """Put a score together."""
    meters = _agreed_meters(readers)
    return Score(
        title=title,
        bars=tuple(_bars(readers, meters)),
        keys=_agreed_keys([reader for reader in readers if not reader.unpitched] or list(readers)),
        meters=meters,
        tempos=tuple(_tempos(found.directions)),
        marks=tuple(ScoreMark(place, text) for place, text in sorted(found.marks.items())),
        turns=tuple(_turns(found, max(len(reader.lengths) for reader in readers))),
        parts=tuple(ScorePart(one.name, one.unpitched, tuple(one.keys), tuple(one.meters)) for one in readers),
        remarks=tuple(found.remarks),
    )


def _bars(readers: tuple[PartReader, ...], meters: tuple[ScoreMeter, ...]) -> Iterator[ScoreBar]:
    longest = max(readers, key=lambda reader: len(reader.lengths))
    at_bar = {meter.place.bar: meter.text for meter in meters}
    nominal = Fraction(4)
    for bar in range(len(longest.lengths)):
        if at_bar.get(bar):
            nominal = 4 * parse_meter(at_bar[bar]).length
        length = max(reader.lengths[bar] for reader in readers if bar < len(reader.lengths))
        yield ScoreBar(longest.numbers[bar] or str(bar + 1), length or nominal)


def _agreed_meters(readers: tuple[PartReader, ...]) -> tuple[ScoreMeter, ...]:
    """Meters of the first part that has any; with several meters at once the others can't be followed."""
    meters = next((reader.meters for reader in readers if reader.meters), [])
    by_place = {meter.place.bar: meter for meter in meters}
    return tuple(by_place[bar] for bar in sorted(by_place))


def _agreed_keys(readers: list[PartReader]) -> tuple[ScoreKey, ...]:
    """Keys that most parts have at concert pitch, wherever one of them changes; the first part decides a tie.

    Horns and kettledrums are often written without a signature, and percussion always.
    """
    now: dict[int, ScoreKey] = {}
    agreed: list[ScoreKey] = []
    changes = sorted(((key.place, number, key) for number, one in enumerate(readers) for key in one.keys), key=_order)
    for index, (place, number, key) in enumerate(changes):
        now[number] = key
        if index + 1 < len(changes) and changes[index + 1][0] == place:
            continue
        voices = [now[part] for part in sorted(now)]
        fifths = Counter(voice.fifths for voice in voices).most_common(1)[0][0]
        modes = Counter(voice.mode for voice in voices if voice.fifths == fifths and voice.mode)
        fresh = ScoreKey(place, fifths, modes.most_common(1)[0][0] if modes else "")
        if not agreed or (agreed[-1].fifths, agreed[-1].mode) != (fresh.fifths, fresh.mode):
            agreed.append(fresh)
    return tuple(agreed)


def _order(change: tuple[Place, int, ScoreKey]) -> tuple[Place, int]:
    return change[:2]


def _tempos(directions: Iterable[tuple[Place, Direction]]) -> Iterator[ScoreTempo]:
    """Tempos in order; at one place figures count before words, and the upper part before the lower."""
    by_place: dict[Place, list[Direction]] = {}
    for place, said in directions:
        by_place.setdefault(place, []).append(said)
    first: float | None = None
    now: float | None = None
    for place in sorted(by_place):
        here = by_place[place]
        words = next((text for one in here for text in one.words if tempo_of(text) or first_tempo(text)), "")
        quarters = next((one.quarters for one in here if one.quarters is not None), None)
        equation = next((one.equation for one in here if one.equation is not None), None)
        by_words = False
        if quarters is None and equation is not None and now is not None:
            quarters = now * float(equation)
        if quarters is None and words:
            quarters, by_words = (first if first_tempo(words) else tempo_of(words)), True
        if quarters is None:
            continue
        first, now = first or quarters, quarters
        yield ScoreTempo(place, quarters, words[:60], by_words)


def _turns(found: Found, count: int) -> Iterator[Turn]:
    """One for each bar, the brackets over endings drawn out over all their bars."""
    told = [found.turns.get(bar, {}) for bar in range(count)]
    open_passes: tuple[int, ...] = ()
    for bar, fields in enumerate(told):
        if fields.get("ending_begins"):
            open_passes = fields["endings"]
        kept = {name: value for name, value in fields.items() if name != "ending_ends"}
        # The sign of a repeat that ends looks like the end of a movement.
        kept["final"] = bool(fields.get("final")) and not fields.get("backward")
        yield Turn(**{**kept, "endings": open_passes})
        if fields.get("ending_ends") and (fields.get("backward") or not _goes_on(told[bar + 1 :])):
            open_passes = ()


def _goes_on(after: list[dict[str, Any]]) -> bool:
    """Whether an ending lasts longer than its bracket, which may be drawn over its first bars only.

    It does if a repeat ends before anything else begins, and the next ending begins right after it.
    """
    for fields, following in pairwise(after):
        if fields.get("ending_begins") or fields.get("forward"):
            return False
        if fields.get("backward"):
            return bool(following.get("ending_begins"))
    return False
