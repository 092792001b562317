"""From the log of a rehearsal back to the events that its notes and its timing were judged by."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Final, cast

from firmware.errors import KeelnoteError
from firmware.events import Event, HarmonyChanged, PlanStepped, PulseChanged
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.settings import Value, setting_named
from firmware.sheet.checked import table_of, text_of, time_of
from firmware.sheet.harmony_record import held_of, own_of
from firmware.sheet.log_lines import Record
from firmware.sheet.pulse_record import program_of_record
from firmware.units import RATE, samples_of

JUDGED_BY: Final = ("reading", "tolerance")
"""Settings that decide what stands in notes.csv."""


def judged_events(records: Iterable[Record | None]) -> tuple[Event, ...]:
    """What the log tells of keys, drone, pulse, and who reads; `at` in samples of the rehearsal, in order.

    A record that can't be used costs itself and no other. A harmony comes back with its key, its tuning, be it one of
    the user's own, and the chord that a progression had come to.
    """
    events: list[Event] = []
    for record in records:
        make = MADE.get(str((record or {}).get("what")))
        if record is None or make is None:
            continue
        try:
            events += make(samples_of(time_of(record["t"])), record)
        except (KeyError, TypeError, ValueError, KeelnoteError):
            continue
    return tuple(events)


def _begun(at: int, record: Record) -> list[Event]:
    settings = table_of(record["settings"])
    return [_set(at, name, settings[name]) for name in JUDGED_BY if name in settings]


def _setting(at: int, record: Record) -> list[Event]:
    name = text_of(record["name"])
    return [_set(at, name, record["value"])] if name in JUDGED_BY else []


def _set(at: int, name: str, value: object) -> Event:
    """A setting as a step of a plan sets it, which every part understands."""
    return PlanStepped(at, 0, "", ((name, setting_named(name).clean(cast("Value", value))),))


def _harmony(at: int, record: Record) -> list[Event]:
    tonic, _, mode = text_of(record["key"]).partition(" ")
    tuning, held = text_of(record["tuning"]), held_of(record)
    harmony = Harmony(
        key=key_of(tonic, mode),
        tuning=tuning,
        own=own_of(record, tuning),
        a4=float(cast("float", record["a4"])),
        shape=text_of(record["shape"]),
        chord_degree=int(cast("int", record.get("degree", 0))),
        octave=int(cast("int", record.get("octave", 2))),
        octaves=int(cast("int", record.get("octaves", 2))),
        held=held,
    )
    return [HarmonyChanged(at, harmony, tones_of(harmony), bool(record["sounding"]))]


def _pulse(at: int, record: Record) -> list[Event]:
    run = int(cast("int", record.get("run", 0)))
    if not record["on"]:
        return [PulseChanged(at, run, None, 0.0)]
    program = program_of_record(record.get("time"))
    start = float(text_of(record.get("start")))
    if program is None or not math.isfinite(start):
        return []
    return [PulseChanged(at, run, program, start * RATE)]


MADE: Final[Mapping[str, Callable[[int, Record], list[Event]]]] = {
    "rehearsal": _begun,
    "setting": _setting,
    "harmony": _harmony,
    "pulse": _pulse,
}
"""What is made of each kind of record; of all others nothing."""


def take_starts(records: Iterable[Record | None]) -> dict[str, float]:
    """From the name of a file of a take to the second of the rehearsal with which it begins."""
    starts: dict[str, float] = {}
    begun: dict[object, float] = {}
    for record in records:
        try:
            if record is not None and record["what"] == "take-started":
                begun[record["number"]] = time_of(record["first_s"])
                starts[f"take-{int(cast('int', record['number'])):02d}.flac"] = begun[record["number"]]
            elif record is not None and record["what"] == "take-saved":
                place = begun[record["number"]]
                for path, samples in cast("list[tuple[str, int]]", record.get("parts", [])):
                    starts[path.rpartition("/")[2]] = place
                    place += samples / RATE
        except (KeyError, TypeError, ValueError):
            continue
    return starts
