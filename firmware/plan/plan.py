"""The plan of a rehearsal: steps, each a handful of settings under a title."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.errors import BadEntryError, UnknownNameError
from firmware.music.keys import TONICS
from firmware.music.modes import mode_named
from firmware.music.notes import parse_pitch_name
from firmware.plan.checked_toml import Entry, Section, check
from firmware.settings import ENTRIES, Value

STEP_SETTINGS: Final = (
    "tonic",
    "mode",
    "tuning",
    "shape",
    "chord_degree",
    "octave",
    "octaves",
    "timbre",
    "reading",
    "tempo",
    "meter",
    "groove",
    "swing",
    "subdivision",
    "count_in",
    "pickup",
    "heard_bars",
    "silent_bars",
    "ramp_to",
    "ramp_over",
    "ramp_after",
    "moves",
)
"""Settings that a step may change, in the order in which they are applied."""

READING_AT_REST: Final = "concert"
"""A step without a reading reads in concert pitch, so that a section's written pitch ends with its step."""


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step: what it is called, the settings it changes, a marker title for a running take, notes for the sheet."""

    title: str
    values: tuple[tuple[str, Value], ...] = ()
    marker: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """Steps in the order of the pedal."""

    title: str = ""
    steps: tuple[PlanStep, ...] = ()


def _plain_tonic(text: str) -> str:
    name = parse_pitch_name(text)
    if name not in TONICS:
        raise UnknownNameError("tonic", text, (tonic.plain for tonic in TONICS))
    return name.plain


def _mode_name(text: str) -> str:
    return mode_named(text).name


_READERS: Final = {"tonic": _plain_tonic, "mode": _mode_name}
"""Names with more than one spelling: B♭ for Bb, ionian for major."""


def _entry(setting: Entry) -> Entry:
    reader = _READERS.get(setting.key)
    if reader is None:
        return replace(setting, default=None)
    return Entry(setting.key, str, help=setting.help, convert=reader)


_BY_NAME: Final = {entry.key: entry for entry in ENTRIES}

STEP_TABLE: Final = (
    Entry("title", str, 1, 40, help="what the screen says when the step begins"),
    *(_entry(_BY_NAME[name]) for name in STEP_SETTINGS),
    Entry("marker", str, 0, 80, default="", help="title of a marker dropped into a running take"),
    Entry("notes", str, default="", help="for the director; shown on the sheet"),
)
PLAN_TABLE: Final = (
    Entry("title", str, default="", help="title of the rehearsal"),
    Section("step", STEP_TABLE, many=True),
)


def read_plan(text: str, source: str = "plan.toml") -> tuple[Plan, tuple[BadEntryError, ...]]:
    """Read a plan from a TOML text. A bad entry is left out of its step and reported; nothing is raised."""
    checked = check(text, source, PLAN_TABLE)
    return plan_of(checked.values), checked.problems


def plan_of(values: Mapping[str, Any]) -> Plan:
    """Make a plan from values that were checked against `PLAN_TABLE`."""
    return Plan(values["title"], tuple(_steps(values["step"])))


def _steps(tables: Iterable[Mapping[str, Any]]) -> Iterable[PlanStep]:
    for number, table in enumerate(tables, start=1):
        reading = table["reading"] or READING_AT_REST
        found = {**table, "reading": reading}
        values = tuple((name, found[name]) for name in STEP_SETTINGS if found[name] is not None)
        yield PlanStep(table["title"] or f"Step {number}", values, table["marker"], table["notes"])
