"""From a score to a plan: a step for every section, in the order of playing."""

from __future__ import annotations

from typing import Final, TypeVar

from firmware.music.keys import ALL_TONICS
from firmware.music.notes import PitchName
from firmware.music.words import Words
from firmware.plan.plan import MOST_STEPS, READING_AT_REST, Plan, PlanStep
from firmware.plan.score import ASSUMED_MODE, Place, Score, ScoreKey, ScoreMark, ScoreTempo
from firmware.plan.score_bars import meter_at, meter_list, pickup_at
from firmware.plan.score_sections import Passage, Section, passages_of, sections_of
from firmware.settings import Value, setting_named

LONGEST_TITLE: Final = 40
LONGEST_NOTES: Final = 400
MOST_RANGES: Final = 6
"""Ranges of bars that a note lists."""

ORDINALS: Final = ("", "", "2nd time", "3rd time")

Mark = TypeVar("Mark", ScoreKey, ScoreTempo, ScoreMark)


def plan_of_score(
    score: Score, name: str = "", *, once: bool = False, words: Words | None = None
) -> tuple[Plan, tuple[str, ...]]:
    """Make a plan of a score; what could not be followed comes as remarks.

    Parameters
    ----------
    score : Score
        What was read.
    name : str
        Title where the score has none.
    once : bool
        Every section once, as printed, instead of the order of playing.
    words : Words, optional
        How titles name notes; English without.
    """
    sections = sections_of(score)
    passages = passages_of(score, sections, once=once)
    remarks = list(score.remarks)
    if len(passages) > MOST_STEPS:
        remarks.append(f"{len(passages)} steps: only the first {MOST_STEPS} are kept")
    said = words or Words()
    steps = tuple(_step(score, sections[one.section], one, remarks, said) for one in passages[:MOST_STEPS])
    title = "".join(sign for sign in score.title or name if sign.isprintable())
    return Plan(title[:80], steps), tuple(dict.fromkeys(remarks))


def tonic_of(name: PitchName) -> PitchName:
    """The tonic as the box names it: E♯ minor is F minor there."""
    return (
        name
        if name in ALL_TONICS
        else min(
            (tonic for tonic in ALL_TONICS if tonic.semitones == name.semitones), key=lambda tonic: abs(tonic.fifths)
        )
    )


def _step(score: Score, section: Section, passage: Passage, remarks: list[str], said: Words) -> PlanStep:
    values: dict[str, Value] = {}
    key = _at(score.keys, section.start)
    if key is not None:
        values["tonic"] = tonic_of(key.tonic).plain
        values["mode"] = key.mode or ASSUMED_MODE
    values["reading"] = READING_AT_REST
    tempo = _at(score.tempos, section.start)
    pickup = pickup_at(score, section.start)
    meter = meter_at(score, section.start.bar + (1 if pickup and section.start.bar + 1 < len(score.bars) else 0))
    if tempo is not None:
        beats = round(tempo.quarters / (4 * float(meter.beat)), 2)
        if setting_named("tempo").accepts(beats):
            values["tempo"] = beats
        else:
            remarks.append(f"bar {score.bars[section.start.bar].number}: {beats:g} beats a minute are left out")
    values["meter"] = meter_list(score, section.start, section.end)
    values["pickup"] = min(float(pickup / 4 / meter.beat), setting_named("pickup").high)
    title = _title(score, section, passage.visit, said)
    return PlanStep(title, tuple(values.items()), notes=_notes(score, section, passage, key, tempo))


def _at(marks: tuple[Mark, ...], place: Place) -> Mark | None:
    """The last mark at a place or before it."""
    return next((mark for mark in reversed(marks) if mark.place <= place), None)


def _here(marks: tuple[Mark, ...], section: Section) -> Mark | None:
    """The mark that stands where a section begins."""
    found = _at(marks, section.start)
    return found if found is not None and (found.place == section.start or section.start.bar == 0) else None


def _title(score: Score, section: Section, visit: int, said: Words) -> str:
    mark, tempo, key = _here(score.marks, section), _here(score.tempos, section), _here(score.keys, section)
    words = tempo.words if tempo else ""
    if not words and key:
        words = f"{said.notes.say(tonic_of(key.tonic))} {key.mode or ASSUMED_MODE}"
    first = section.start.bar == 0 and pickup_at(score, section.start)
    bar = "Pickup" if first else f"Bar {score.bars[section.start.bar].number}"
    place = mark.text if mark and mark.text else bar
    again = "" if visit == 1 else f", {ORDINALS[visit] if visit < len(ORDINALS) else f'{visit}th time'}"
    room = LONGEST_TITLE - len(again)
    return f"{place}: {words}"[:room].rstrip(": ") + again if words else place[:room] + again


def _notes(score: Score, section: Section, passage: Passage, key: ScoreKey | None, tempo: ScoreTempo | None) -> str:
    ranges = [_bars(score, first, last) for first, last in passage.ranges[:MOST_RANGES]]
    more = " and on" if len(passage.ranges) > MOST_RANGES else ""
    said = [f"Bars {', '.join(ranges)}{more}."]
    if section.start.offset:
        beat = section.start.offset / 4 / meter_at(score, section.start.bar).beat + 1
        said.append(f"Begins on beat {float(beat):g}.")
    if tempo is not None and tempo.by_words:
        said.append(f"Tempo from the word {tempo.words}.")
    if key is not None and not key.mode:
        said.append("Mode not given.")
    return " ".join(said)[:LONGEST_NOTES]


def _bars(score: Score, first: int, last: int) -> str:
    numbers = score.bars[first].number, score.bars[last].number
    return numbers[0] if first == last else "–".join(numbers)
