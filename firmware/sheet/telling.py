"""From the records of a log to a rehearsal, one by one.

The box tells its own rehearsal so, and `keelnote sheet` an old one: from the same records comes the same sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Final, cast

from firmware.music.instruments import INSTRUMENTS
from firmware.music.words import words_of
from firmware.settings import SETTINGS, Value
from firmware.sheet.checked import (
    count_of,
    number_of,
    perhaps_of,
    rows_of,
    short_of,
    table_of,
    text_of,
    time_of,
    truth_of,
)
from firmware.sheet.log_lines import Record
from firmware.sheet.rehearsal import (
    ChordCheck,
    ChordMember,
    DrillAnswer,
    HeldNote,
    KeySpan,
    PlanSpan,
    PulseSpan,
    Rehearsal,
    SoundLevel,
    TakeNote,
    TakePart,
    TimedPulse,
    Trouble,
)
from firmware.units import RATE

ON_THE_SHEET: Final = ("a4", "tuning", "timbre", "drone_level", "pulse_level", "mic_gain", "tolerance")
"""Settings that the sheet lists as they stood at the end."""

MOST_SAMPLES: Final = 1e10
"""In a file: more than two days of them."""

BETWEEN: Final = " · "
"""Stands between the titles of several plans."""

NEEDED: Final = (*ON_THE_SHEET, "reading", "note_names", "degree_names")
"""Settings that the log's first record brings."""


@dataclass(frozen=True, slots=True)
class Story:
    """The rehearsal as told so far, the settings that the sheet needs, and the second on which each take began."""

    rehearsal: Rehearsal = field(default_factory=lambda: Rehearsal(0))
    settings: Mapping[str, Value] = field(default_factory=dict)
    firsts: Mapping[int, float] = field(default_factory=dict)


def tell(story: Story, record: Record) -> Story | None:
    """The story with one record more, None if the record is damaged.

    Kinds that the sheet has no use for only move the time on.
    """
    try:
        return _told(story, record)
    except (ValueError, TypeError, KeyError):
        return None


def _told(story: Story, record: Record) -> Story:
    act = ACTS.get(str(record["what"]))
    told = act(story, record) if act else story
    seconds = max(told.rehearsal.seconds, time_of(record["t"]))
    return replace(told, rehearsal=replace(told.rehearsal, seconds=seconds))


def ended(story: Story) -> Rehearsal:
    """The rehearsal with its settings in words."""
    rows = tuple(row for name in ON_THE_SHEET for row in SETTINGS if row.name == name and name in story.settings)
    words = tuple((row.help, f"{row.written(story.settings[row.name])} {row.unit}".rstrip()) for row in rows)
    return replace(story.rehearsal, settings=words)


def reading_title(name: str) -> str:
    """An instrument as a section is called, with its transposition; empty for concert pitch and what is unknown."""
    instrument = next((one for one in INSTRUMENTS if one.name == name), None)
    if instrument is None or name == "concert":
        return ""
    # Some titles say it already: horn in F.
    return instrument.title if instrument.title.endswith(instrument.badge) else f"{instrument.title} {instrument.badge}"


def _more(story: Story, name: str, value: object) -> Story:
    """The story with one value more in one of its rehearsal's tuples."""
    values = (*getattr(story.rehearsal, name), value)
    return replace(story, rehearsal=replace(story.rehearsal, **cast("dict[str, Any]", {name: values})))


def _begun(story: Story, record: Record) -> Story:
    number, title, date = count_of(record["number"]), text_of(record["title"]), text_of(record["date"])
    story = replace(story, rehearsal=replace(story.rehearsal, number=number, title=title, date=date or None))
    for name, value in table_of(record["settings"]).items():
        story = _set(story, name, value)
    return story


def _setting(story: Story, record: Record) -> Story:
    return _set(story, text_of(record["name"]), record["value"])


def _set(story: Story, name: str, value: object) -> Story:
    row = next((row for row in SETTINGS if row.name == name), None)
    if row is None or name not in NEEDED:
        return story
    clean = row.clean(cast("Value", value))
    story = replace(story, settings={**story.settings, name: clean})
    if name == "reading":
        return replace(story, rehearsal=replace(story.rehearsal, reading=reading_title(str(clean))))
    if name in ("note_names", "degree_names"):
        return replace(story, rehearsal=replace(story.rehearsal, words=words_of(story.settings)))
    if name == "tolerance":
        return replace(story, rehearsal=replace(story.rehearsal, tolerance=float(clean)))
    return story


def _harmony(story: Story, record: Record) -> Story:
    span = KeySpan(
        time_of(record["t"]), text_of(record["key"]), text_of(record["tuning"]), truth_of(record["sounding"])
    )
    keys = story.rehearsal.keys
    same = keys and replace(keys[-1], start_s=span.start_s) == span
    return story if same else _more(story, "keys", span)


def _plan(story: Story, record: Record) -> Story:
    notes = text_of(record.get("notes", ""))
    return _more(story, "steps", PlanSpan(time_of(record["t"]), text_of(record["title"]), notes))


def _plan_opened(story: Story, record: Record) -> Story:
    """A rehearsal of several plans is called by all of them."""
    before, title = story.rehearsal.title, text_of(record["title"]).strip()
    if not title or title in before.split(BETWEEN):
        return story
    return replace(story, rehearsal=replace(story.rehearsal, title=f"{before}{BETWEEN}{title}" if before else title))


def _pulse(story: Story, record: Record) -> Story:
    at = time_of(record["t"])
    if not truth_of(record["on"]):
        return _more(story, "pulses", PulseSpan(at, 0.0, 0.0))
    tempo, to = (number_of(record[name]) for name in ("tempo", "to"))
    return _more(story, "pulses", PulseSpan(at, tempo, to, text_of(record["meter"])))


def _note(story: Story, record: Record) -> Story:
    keys, start, end = story.rehearsal.keys, time_of(record["start_s"]), time_of(record["t"])
    note = HeldNote(
        start_s=start,
        end_s=max(start, end),
        degree=text_of(record["degree"]),
        concert=text_of(record["concert"]),
        written=text_of(record["written"]),
        median_cents=short_of(record["median_cents"]),
        spread_cents=short_of(record["spread_cents"]),
        beats=perhaps_of(record["beats"]),
        settled_after_s=perhaps_of(record["settled_after"]),
        steadiness_cents=perhaps_of(record.get("steadiness_cents")),
        players=text_of(record.get("players", "")),
        key=keys[-1].key if keys else "",
        late_ms=perhaps_of(record.get("late_ms")),
        section=story.rehearsal.reading,
    )
    return _more(story, "notes", note)


def _answer(story: Story, record: Record) -> Story:
    return _more(story, "answers", text_of(record["degree"]))


def _chord(story: Story, record: Record) -> Story:
    members = tuple(
        ChordMember(
            degree=text_of(one["degree"]),
            note=text_of(one["note"]),
            cents=perhaps_of(one["cents"]) if truth_of(one["accepted"]) else None,
            level=text_of(one["level"]),
        )
        for one in rows_of(record["degrees"])
    )
    start, seconds = (time_of(record[name]) for name in ("start_s", "seconds"))
    chord, degree = (text_of(record[name]) for name in ("chord", "degree"))
    return _more(story, "chords", ChordCheck(start, seconds, chord, degree, members))


def _take_started(story: Story, record: Record) -> Story:
    return replace(story, firsts={**story.firsts, count_of(record["number"]): time_of(record["first_s"])})


def _take_stopped(story: Story, record: Record) -> Story:
    number, seconds = count_of(record["number"]), time_of(record["seconds"])
    start = story.firsts.get(number, max(time_of(record["t"]) - seconds, 0.0))
    markers = tuple((time_of(at), text_of(title)) for at, title in cast("list[Any]", record["markers"]))
    parts = (TakePart(f"take-{number:02d}.flac", seconds),)
    return _more(story, "takes", TakeNote(number, start, seconds, markers, parts))


def _take_saved(story: Story, record: Record) -> Story:
    """The files of a take as they are on the stick; a long take, or one whose stick was pulled, has several."""
    number = count_of(record["number"])
    rows = cast("list[Any]", record.get("parts") or [])
    lengths = ((text_of(path), number_of(samples, MOST_SAMPLES) / RATE) for path, samples in rows)
    parts = tuple(TakePart(path.rpartition("/")[2], time_of(seconds)) for path, seconds in lengths)
    takes = tuple(
        replace(take, parts=parts) if parts and take.number == number else take for take in story.rehearsal.takes
    )
    return replace(story, rehearsal=replace(story.rehearsal, takes=takes))


def _takes_deleted(story: Story, record: Record) -> Story:
    """One take is gone, or with number 0 all of them."""
    number = count_of(record["number"])
    takes = tuple(take for take in story.rehearsal.takes if number not in {0, take.number})
    return replace(story, rehearsal=replace(story.rehearsal, takes=takes))


def _timing(story: Story, record: Record) -> Story:
    beats, free = (cast("list[Any]", record[name]) for name in ("beats", "free"))
    pulse = TimedPulse(
        start_s=time_of(record["start_s"]),
        first_bar=count_of(record["first_bar"]),
        last_bar=count_of(record["last_bar"]),
        count=count_of(record["count"]),
        median_ms=number_of(record["median_ms"]),
        spread_ms=number_of(record["spread_ms"]),
        drift_percent=perhaps_of(record["drift_percent"]),
        beats=tuple((text_of(beat), number_of(median), number_of(spread)) for beat, median, spread in beats),
        free=tuple((count_of(first), count_of(last), number_of(percent)) for first, last, percent in free),
    )
    return _more(story, "timings", pulse)


def _drill_round(story: Story, record: Record) -> Story:
    right = record["right"]
    answer = DrillAnswer(
        at_s=time_of(record["t"]),
        drill=text_of(record["drill"]),
        group=text_of(record["group"]),
        kind=text_of(record["kind"]),
        degree=text_of(record["degree"]),
        began=number_of(record["began"]),
        off=perhaps_of(record["off"]),
        seconds=time_of(record["seconds"]),
        beats=perhaps_of(record["beats"]),
        said=text_of(record["said"]),
        right=None if right is None else truth_of(right),
    )
    return _more(story, "drills", answer)


def _level(story: Story, record: Record) -> Story:
    level = SoundLevel(
        seconds=time_of(record["seconds"]),
        mean_db=number_of(record["mean_db"]),
        loudest_db=number_of(record["loudest_db"]),
        calibrated=truth_of(record["calibrated"]),
        dose=max(number_of(record["dose"]), 0.0),
        counted_s=time_of(record["counted_s"]),
    )
    return replace(story, rehearsal=replace(story.rehearsal, level=level))


def _fault(story: Story, record: Record) -> Story:
    return _more(story, "troubles", Trouble(time_of(record["t"]), text_of(record["message"])))


ACTS: Final[Mapping[str, Callable[[Story, Record], Story]]] = MappingProxyType(
    {
        "rehearsal": _begun,
        "setting": _setting,
        "harmony": _harmony,
        "plan": _plan,
        "plan-opened": _plan_opened,
        "pulse": _pulse,
        "note": _note,
        "answer": _answer,
        "chord": _chord,
        "take-started": _take_started,
        "take-stopped": _take_stopped,
        "takes-deleted": _takes_deleted,
        "take-saved": _take_saved,
        "timing": _timing,
        "drill-round": _drill_round,
        "level": _level,
        "fault": _fault,
    }
)
"""What each kind of record adds."""
