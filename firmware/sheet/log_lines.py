"""Lines of log.jsonl: one JSON object a line (JSON is RFC 8259), with "t" in seconds and "what" happened."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Final, cast

from firmware.events import Event, Fault, HarmonyChanged, Noticed, PlanStepped, PowerDown, SettingChanged, Wished
from firmware.heard_events import BarTimed, ChordHeld, KeyCaught, NoteHeld, PulseTimed
from firmware.music.keys import Key
from firmware.room_events import RoomChecked, SoundTold
from firmware.take_events import ReplayEnded, TakeSaved, TakeStarted, TakeStopped
from firmware.units import RATE, seconds_of

Value = str | int | float | bool | None

WHAT: Final[Mapping[type[Event], str]] = MappingProxyType(
    {
        Wished: "wish",
        SettingChanged: "setting",
        HarmonyChanged: "harmony",
        PlanStepped: "plan",
        TakeStarted: "take-started",
        TakeStopped: "take-stopped",
        TakeSaved: "take-saved",
        ReplayEnded: "replay-ended",
        NoteHeld: "note",
        ChordHeld: "chord",
        KeyCaught: "caught",
        BarTimed: "bar",
        PulseTimed: "timing",
        SoundTold: "level",
        RoomChecked: "room",
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
    record = {"t": round(t, 3), "what": what} | {name: _plain(value) for name, value in values.items()}
    return json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(", ", ": "))


def event_line(event: Event, rate: int = RATE) -> str | None:
    """Line for an event; None for one that is not logged."""
    what = WHAT.get(type(event))
    if what is None:
        return None
    if isinstance(event, HarmonyChanged):
        values: dict[str, object] = {
            "key": _key(event.harmony.key),
            "tuning": event.harmony.tuning,
            "a4": event.harmony.a4,
            "shape": event.harmony.shape,
            "tones": [tone.note.text for tone in event.tones],
            "sounding": event.sounding,
        }
    elif isinstance(event, KeyCaught):
        second = None if event.second is None else _key(event.second)
        values = {"key": _key(event.key), "confidence": event.confidence, "second": second}
    else:
        names = (field.name for field in dataclasses.fields(event) if field.name != "at")
        values = dict(_told(name, getattr(event, name), rate) for name in names)
    return log_line(seconds_of(event.at, rate), what, **values)


def read_log(text: str) -> Iterator[dict[str, object]]:
    """Records of a log; a line that a power cut left half written is passed over."""
    for line in text.splitlines():
        try:
            record = json.loads(line)
        except ValueError:
            continue
        if isinstance(record, dict) and "t" in record and "what" in record:
            yield record


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
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    return str(value)
