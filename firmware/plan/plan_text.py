"""A plan as text: the TOML file of it, a table for the terminal, and an example that explains itself."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from typing import Final

from firmware.music.keys import ALL_TONICS
from firmware.music.languages import language_named
from firmware.music.languages.english import ENGLISH
from firmware.music.note_names import NoteNames
from firmware.music.words import Words
from firmware.plan.checked_toml import Entry, Table
from firmware.plan.plan import KEYS, PLAN_TABLE, READING_AT_REST, STEP_TEXTS, Plan, PlanStep, step_table
from firmware.settings import SETTINGS, Value, setting_named

_DEFAULTS: Final = {entry.key: entry.default for entry in STEP_TEXTS}
_COLUMNS: Final = ("tonic", "mode", "tempo", "meter")
_SAID: Final[Mapping[str, Callable[[Words, str], str]]] = {
    "tonic": Words.name,
    "tonics": Words.chords,
    "progression": Words.chords,
}
"""Settings that hold names of notes."""

_SHOWN_APART: Final = (*_COLUMNS, "reading", "pickup")


def write_plan(plan: Plan, names: str = "") -> str:
    """The TOML file of a plan, its notes named in a language or in its own; `read_plan` reads the same plan from it."""
    language = language_named(names or plan.names)
    lines = [f"title = {_written(plan.title)}", f"names = {_written(language.name)}"]
    lines += [f"{name} = {_written(value)}" for name, value in plan.values]
    for step in plan.steps:
        lines += ["", "[[step]]", *_entries(step, Words(language))]
    return "\n".join(lines) + "\n"


def _entries(step: PlanStep, words: Words) -> Iterator[str]:
    yield f"title = {_written(step.title)}"
    for name, value in step.values:
        if (name, value) != ("reading", READING_AT_REST):
            yield f"{KEYS.get(name, name)} = {_written(said(name, value, words))}"
    for name, default in _DEFAULTS.items():
        value = getattr(step, name)
        if value != default:
            yield f"{name} = {_written(value)}"


def said(name: str, value: Value, words: Words) -> Value:
    """A setting's value with its notes named in the room's words."""
    return _SAID[name](words, str(value)) if name in _SAID else value


def _written(value: Value) -> str:
    """A value as TOML: strings are written as JSON writes them, which TOML reads the same, but for the delete sign."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def plan_table(plan: Plan, words: Words | None = None) -> tuple[tuple[str, ...], ...]:
    """Rows of a plan for people, the first of them the head: number, title, minutes, key, tempo, meter, the rest."""
    head = ("step", "title", "min", "key", "tempo", "meter", "also")
    return (head, *(_row(number, step, words or Words()) for number, step in enumerate(plan.steps, start=1)))


def _row(number: int, step: PlanStep, words: Words) -> tuple[str, ...]:
    values = {name: said(name, value, words) for name, value in step.values}
    key = f"{values.get('tonic', '')} {values.get('mode', '')}".strip()
    also = [f"{name} {_short(name, value)}" for name, value in values.items() if name not in _SHOWN_APART]
    if values.get("reading") not in (None, READING_AT_REST):
        also.insert(0, f"reads {values['reading']}")
    if values.get("pickup"):
        also.append(f"pickup {_short('pickup', values['pickup'])}")
    if step.take is not None:
        also.append("take on" if step.take else "take off")
    if step.drill:
        also.append(f"drill {step.drill}")
    if step.marker:
        also.append(f"marker {step.marker!r}")
    tempo = _short("tempo", values["tempo"]) if "tempo" in values else ""
    minutes = f"{step.minutes:g}" if step.minutes else ""
    return str(number), step.title, minutes, key, tempo, str(values.get("meter", "")), ", ".join(also)


def _short(name: str, value: Value) -> str:
    return setting_named(name).written(value)


def example_plan(names: str = ENGLISH.name) -> str:
    """A plan that uses every key once, each with what may be written; all of it is read without a problem."""
    language = language_named(names)
    allowed = {KEYS.get(setting.name, setting.name): setting.allowed for setting in SETTINGS}
    allowed["tonic"] = "choose from " + ", ".join(language.plain(tonic) for tonic in ALL_TONICS)
    helps = _helps(PLAN_TABLE, allowed)
    lines: list[str] = []
    for written in _EXAMPLE.strip("\n").split("\n"):
        line = _example_line(written, language)
        name = line.split(" = ")[0]
        if line == "[[step]]":
            helps = helps if lines.count(line) else _helps(step_table(), allowed)
        if name in helps and line != name:
            help_, may = helps.pop(name)
            may = may if len(may) <= _LONGEST_CHOICES else may[:_LONGEST_CHOICES].rsplit(",", 1)[0] + ", ..."
            lines.append(f"# {help_}: {may}")
        lines.append(line)
    return "\n".join(lines) + "\n"


def _example_line(line: str, language: NoteNames) -> str:
    """A line of the example with its notes named in a language."""
    name, equals, value = line.partition(" = ")
    if name == "names":
        return f"{name} = {_written(language.name)}"
    return f"{name} = {_written(said(name, json.loads(value), Words(language)))}" if equals and name in _SAID else line


def _helps(table: Table, allowed: dict[str, str]) -> dict[str, tuple[str, str]]:
    """What each key of a table means, and what may be written."""
    entries = [item for item in table if isinstance(item, Entry)]
    return {entry.key: (entry.help, allowed.get(entry.key, entry.allowed)) for entry in entries}


_LONGEST_CHOICES: Final = 100

_EXAMPLE: Final = """
# A plan for Keelnote: put it into the folder KEELNOTE/plans of the stick. The right pedal goes on to the next step.
# Check it with: keelnote plan FILE. A step changes only what it names; leave out the rest.

title = "Thursday, wind band"
names = "english"
a4 = 442.0

[[step]]
title = "Warm-up: long tones"
minutes = 5
tonic = "Bb"
mode = "major"
tuning = "just"
shape = "fifth"
octave = 2
octaves = 2
third_level = -3.0
slope = -3.0
timbre = "reed"
drone_level = -18.0
notes = "Breathe together. Listen down to the tubas before you come in."

[[step]]
title = "Clarinets and trumpets: the third"
minutes = 6
shape = "triad"
chord_degree = 0
section = "clarinet"
marker = "Thirds alone"
notes = "Written pitch is on the screen. It ends with this step."

[[step]]
title = "Quay March, letter B"
minutes = 12
tonic = "Eb"
a4 = 442.0
tempo = 108.0
meter = "4/4x7 3/4"
groove = "click"
kit = "click"
pulse_level = -15.0
subdivision = 1
accents = "groups"
cross = "off"
swing = 2.0
count_in = 1
pickup = 1.0
heard_bars = 2
silent_bars = 2
take = true

[[step]]
title = "The last ritardando"
minutes = 8
ramp_to = 60.0
ramp_over = 8
ramp_after = 4
ramp_law = "beat"
silent_bars = 0

[[step]]
title = "The same with a hold"
moves = "108->60 over 8 beats, hold 2 beats"
take = false

[[step]]
title = "Cadences by ear"
progression = "I:4 IV:4 V7:4 I:4"
chords_by = "pulse"
stays = "least"
keyboard_follows = "tonic"

[[step]]
title = "Which chord is it?"
minutes = 6
progression = "none"
group = "Clarinets"
group_number = 2
drill_degree = 3
drill_rounds = 6
settle_by = "knob"
match_within = 10
match_seconds = 3
drill = "which-is-it"

[[step]]
title = "Warm-down"
progression = "none"
tonics = "scale"
tone_beats = 8
rest_beats = 4
"""
