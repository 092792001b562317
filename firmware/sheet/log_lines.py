"""Lines of log.jsonl: one JSON object a line (JSON is RFC 8259), with "t" in seconds and "what" happened."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterator, Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Final, cast

from firmware.drill_events import DrillBegan, DrillEnded, DrillRound
from firmware.events import (
    Event,
    Fault,
    HarmonyChanged,
    Noticed,
    PlanOpened,
    PlanStepped,
    PowerDown,
    PulseChanged,
    SettingChanged,
    Wished,
)
from firmware.heard_events import AnswerGiven, BarTimed, ChordHeld, KeyCaught, NoteHeld, PulseTimed
from firmware.music.keys import Key
from firmware.room_events import RoomChecked, SoundTold
from firmware.sheet.checked import table_of, text_of, time_of
from firmware.sheet.harmony_record import harmony_record
from firmware.sheet.pulse_record import time_record
from firmware.take_events import ReplayEnded, TakeSaved, TakesDeleted, TakeStarted, TakeStopped
from firmware.units import RATE, seconds_of

Record = dict[str, object]

WHAT: Final[Mapping[type[Event], str]] = MappingProxyType(
    {
        Wished: "wish",
        SettingChanged: "setting",
        HarmonyChanged: "harmony",
        PlanOpened: "plan-opened",
        PlanStepped: "plan",
        TakeStarted: "take-started",
        TakeStopped: "take-stopped",
        TakeSaved: "take-saved",
        TakesDeleted: "takes-deleted",
        ReplayEnded: "replay-ended",
        NoteHeld: "note",
        AnswerGiven: "answer",
        ChordHeld: "chord",
        KeyCaught: "caught",
        PulseChanged: "pulse",
        BarTimed: "bar",
        PulseTimed: "timing",
        SoundTold: "level",
        RoomChecked: "room",
        DrillBegan: "drill",
        DrillRound: "drill-round",
        DrillEnded: "drill-ended",
        Noticed: "notice",
        Fault: "fault",
        PowerDown: "power-down",
    }
)
"""What is worth a line. Ticks, levels, single readings and keys are not: they come many times a second."""

IN_SAMPLES: Final[Mapping[str, str]] = MappingProxyType({"start": "start_s", "first": "first_s", "samples": "seconds"})
"""Fields that count samples, and what they are called in the log, which counts seconds."""


def log_line(t: float, what: str, **values: object) -> str:
    """One line: `t` in seconds to the millisecond, what happened, and what else there is to say.

    Numbers that JSON has no word for (infinite, not a number) become null; fractions are kept to four places.
    """
    return line_of(record(t, what, **values))


def record(t: float, what: str, **values: object) -> Record:
    """What a line holds, as JSON reads it back."""
    return {"t": round(t, 3), "what": what} | {name: _plain(value) for name, value in values.items()}


def line_of(told: Record) -> str:
    """Write a record as its line."""
    return json.dumps(told, ensure_ascii=False, allow_nan=False, separators=(", ", ": "))


def event_line(event: Event, rate: int = RATE) -> str | None:
    """Line for an event; None for one that is not logged."""
    told = event_record(event, rate)
    return None if told is None else line_of(told)


def event_record(event: Event, rate: int = RATE) -> Record | None:
    """Record for an event; None for one that is not logged."""
    what = WHAT.get(type(event))
    if what is None:
        return None
    return record(seconds_of(event.at, rate), what, **_values(event, rate))


def _values(event: Event, rate: int) -> dict[str, object]:
    if isinstance(event, HarmonyChanged):
        return {
            "key": _key(event.harmony.key),
            "tuning": event.harmony.tuning,
            "a4": event.harmony.a4,
            "shape": event.harmony.shape,
            "degree": event.harmony.chord_degree,
            "octave": event.harmony.octave,
            "octaves": event.harmony.octaves,
            "tones": [tone.note.text for tone in event.tones],
            "sounding": event.sounding,
            **harmony_record(event.harmony),
        }
    if isinstance(event, KeyCaught):
        second = None if event.second is None else _key(event.second)
        return {"key": _key(event.key), "confidence": event.confidence, "second": second}
    if isinstance(event, PulseChanged):
        return _pulse(event, rate)
    names = (field.name for field in dataclasses.fields(event) if field.name != "at")
    return dict(_told(name, getattr(event, name), rate) for name in names)


def _pulse(event: PulseChanged, rate: int) -> dict[str, object]:
    """Tempo now, the one it goes to in the end, and the meter; without a program the pulse is off."""
    program = event.program
    if program is None:
        return {"on": False, "run": event.run}
    place = max(program.position((event.at - event.start) / rate), 0.0)
    now, last = (program.curve.speed_at(where) / float(program.unit) for where in (place, math.inf))
    meter = program.bars.bar(max(program.bars.number_at(Fraction(place)), 1))[1]
    # All that is needed to align players with it again: the figures before are rounded, for people.
    exact = {"run": event.run, "start": repr(event.start / rate), "time": time_record(program)}
    return {"on": True, "tempo": round(now, 1), "to": round(last, 1), "meter": meter.text, **exact}


def read_log(text: str) -> Iterator[Record | None]:
    """Records of a log, line by line; None for a line that can't be read, as a power cut leaves one."""
    for line in text.split("\n"):
        if line.strip():
            yield _read(line)


def _read(line: str) -> Record | None:
    try:
        told = table_of(json.loads(line))
        time_of(told["t"])
        text_of(told["what"])
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    return told


def _key(key: Key) -> str:
    return f"{key.tonic.text} {key.mode.name}"


def _told(name: str, value: object, rate: int) -> tuple[str, object]:
    seconds = IN_SAMPLES.get(name)
    return (name, value) if seconds is None else (seconds, round(seconds_of(cast("int", value), rate), 3))


def _plain(value: object) -> object:
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    if value is None or isinstance(value, str | int):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(name): _plain(one) for name, one in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    return str(value)
