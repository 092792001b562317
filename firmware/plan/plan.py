"""The plan of a rehearsal: steps, each a handful of settings under a title."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.errors import BadEntryError, UnknownNameError
from firmware.music.languages import LANGUAGES, language_named
from firmware.music.languages.english import ENGLISH
from firmware.music.modes import mode_named
from firmware.music.note_names import NoteNames
from firmware.music.tunings import TUNINGS
from firmware.plan.checked_toml import Entry, Section, Table, check
from firmware.plan.plan_names import language_of, readers_in
from firmware.plan.toml_salvage import read_toml
from firmware.settings import ENTRIES, LONGEST_TEXT, Value, setting_named

STEP_SETTINGS: Final = (
    "a4",
    "tonic",
    "mode",
    "tuning",
    "shape",
    "chord_degree",
    "octave",
    "octaves",
    "third_level",
    "slope",
    "timbre",
    "drone_level",
    "progression",
    "chords_by",
    "stays",
    "tonics",
    "tone_beats",
    "rest_beats",
    "keyboard_follows",
    "group",
    "group_number",
    "drill_degree",
    "drill_rounds",
    "settle_by",
    "match_within",
    "match_seconds",
    "reading",
    "tempo",
    "meter",
    "groove",
    "pulse_level",
    "kit",
    "swing",
    "subdivision",
    "accents",
    "cross",
    "count_in",
    "pickup",
    "heard_bars",
    "silent_bars",
    "ramp_to",
    "ramp_over",
    "ramp_after",
    "ramp_law",
    "moves",
)
"""Settings that a step may change, in the order in which they are applied. One more setting: one more name."""

KEYS: Final[Mapping[str, str]] = {"reading": "section"}
"""Settings that a plan calls by another word: its step is for a section, whose written pitch is shown."""

READING_AT_REST: Final = "concert"
"""A step without a reading reads in concert pitch, so that a section's written pitch ends with its step."""


MOST_STEPS: Final = 1000
LONGEST_MINUTES: Final = 600.0


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step of a plan.

    Parameters
    ----------
    title : str
        What the screen says when it begins.
    values : tuple of (str, value)
        Settings that it changes, by name.
    marker : str
        Title of a marker in a running take, empty for the step's own.
    notes : str
        A line for the director, on the screen and on the sheet.
    minutes : float
        How long it is meant to last, 0 if nobody said.
    take : bool or None
        Whether a take is started or stopped; None leaves it.
    drill : str or None
        Name of a drill that begins with the step.
    """

    title: str
    values: tuple[tuple[str, Value], ...] = ()
    marker: str = ""
    notes: str = ""
    minutes: float = 0.0
    take: bool | None = None
    drill: str | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """Steps in the order of the pedal, and the settings that hold from the moment the plan is opened.

    All of it is English; `names` is the language that its text has, and `remarks` say how that was told.
    """

    title: str = ""
    steps: tuple[PlanStep, ...] = ()
    values: tuple[tuple[str, Value], ...] = ()
    names: str = ENGLISH.name
    remarks: tuple[str, ...] = ()

    def up_to(self, number: int) -> tuple[tuple[str, Value], ...]:
        """Settings as they stand after steps 1 to `number`, for one that is gone back to or jumped to."""
        found: dict[str, Value] = dict(self.values)
        for step in self.steps[:number]:
            found |= dict(step.values)
        return tuple((name, found[name]) for name in STEP_SETTINGS if name in found)

    def minutes_after(self, number: int) -> float:
        """Minutes that are planned for the steps after step `number`."""
        return sum(step.minutes for step in self.steps[number:])


def _mode_name(text: str) -> str:
    return mode_named(text).name


def _tuning_in(own: Tunings) -> Callable[[str], str]:
    def read(text: str) -> str:
        known = (*(tuning.name for tuning in TUNINGS), *(own or ()))
        if own is not None and text not in known:
            raise UnknownNameError("tuning", text, known)
        return text

    return read


def _entry(setting: Entry, readers: Mapping[str, Callable[[str], str]]) -> Entry:
    """A setting as an entry of a plan; names with more than one spelling have readers: B♭ for Bb, ionian for major."""
    key, reader = KEYS.get(setting.key, setting.key), readers.get(setting.key)
    if reader is None:
        return replace(setting, key=key, default=None)
    return Entry(key, str, 1, LONGEST_TEXT, help=setting.help, convert=reader)


_BY_NAME: Final = {entry.key: entry for entry in ENTRIES}

Tunings = tuple[str, ...] | None

_LANGUAGE_NAMES: Final = tuple(language.name for language in LANGUAGES)

_DRILLS: Final = setting_named("chosen_drill").choices

STEP_TEXTS: Final = (
    Entry("marker", str, 0, 80, default="", help="title of a marker dropped into a running take"),
    Entry("notes", str, 0, 400, default="", help="for the director; on the screen and on the sheet"),
    Entry("minutes", float, 0, LONGEST_MINUTES, default=0.0, help="minutes that the step is meant to last"),
    Entry("take", bool, default=None, help="start a take with the step, or stop it"),
    Entry("drill", _DRILLS, default=None, help="a drill that begins with the step"),
)
"""What a step holds beside its title and settings: a row for each further field of `PlanStep`, of the same name."""

PLAN_SETTINGS: Final = ("a4",)
"""Settings that hold from the moment a plan is opened."""


def step_table(language: NoteNames = ENGLISH, tunings: Tunings = None) -> Table:
    """What a step may hold, its notes named in a language; `tunings` are names of own ones, if known."""
    readers = {**readers_in(language), "mode": _mode_name, "tuning": _tuning_in(tunings)}
    return (
        Entry("title", str, 1, 40, help="what the screen says when the step begins"),
        *(_entry(_BY_NAME[name], readers) for name in STEP_SETTINGS),
        *STEP_TEXTS,
    )


def plan_table_in(language: NoteNames = ENGLISH, tunings: Tunings = None) -> Table:
    """What a plan may hold, its notes named in a language; see `step_table`."""
    return (
        Entry("title", str, 0, 80, default="", help="title of the rehearsal"),
        Entry("names", _LANGUAGE_NAMES, default=None, help="language of the note names in this plan"),
        *(_entry(_BY_NAME[name], {}) for name in PLAN_SETTINGS),
        Section("step", step_table(language, tunings), many=True),
    )


PLAN_TABLE: Final = plan_table_in()


def read_plan(
    text: str, source: str = "plan.toml", names: str = ENGLISH.name, tunings: Tunings = None
) -> tuple[Plan, tuple[BadEntryError, ...]]:
    """Read a plan from a TOML text. A bad entry is left out of its step and reported; nothing is raised.

    `names` are the room's note names; a plan may say that it has others. `tunings` are the names of own tunings that
    there are beside those of the box; None accepts any name.
    """
    data, _, _ = read_toml(text, source)
    language, remark = language_of(data, language_named(names))
    checked = check(text, source, plan_table_in(language, tunings))
    steps = checked.values["step"]
    told = {**checked.values, "names": language.name, "step": steps[:MOST_STEPS]}
    plan = replace(plan_of(told), remarks=(remark,) if remark else ())
    if len(steps) <= MOST_STEPS:
        return plan, checked.problems
    line = steps[MOST_STEPS]["line"]
    problem = BadEntryError(source, line, "step", f"step {MOST_STEPS + 1}", f"at most {MOST_STEPS} steps in a plan")
    return plan, (*checked.problems, problem)


def plan_of(values: Mapping[str, Any]) -> Plan:
    """Make a plan from values that were checked against `PLAN_TABLE`."""
    held = tuple((name, values[name]) for name in PLAN_SETTINGS if values[name] is not None)
    return Plan(values["title"], tuple(_steps(values["step"])), held, values["names"] or ENGLISH.name)


def _steps(tables: Iterable[Mapping[str, Any]]) -> Iterable[PlanStep]:
    for number, table in enumerate(tables, start=1):
        found = {name: table[KEYS.get(name, name)] for name in STEP_SETTINGS}
        found["reading"] = found["reading"] or READING_AT_REST
        values = tuple((name, found[name]) for name in STEP_SETTINGS if found[name] is not None)
        texts = {entry.key: table[entry.key] for entry in STEP_TEXTS}
        yield PlanStep(table["title"] or f"Step {number}", values, **texts)
