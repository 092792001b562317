"""The notebook: the log, the notes, the chapters of each take, and the sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.commands import AppendLine, WriteText
from firmware.events import Event, HarmonyChanged, PowerDown, SettingChanged, SheetDue, Wished
from firmware.heard_events import BarTimed, NoteHeld, OnsetPlaced, PulseTimed
from firmware.music.transposition import instrument_named
from firmware.parts.part import Address, Follow, Part, Start
from firmware.room_events import SoundTold
from firmware.settings import Values, setting_named
from firmware.sheet.log_lines import WHAT, event_line
from firmware.sheet.notes_csv import header, note_line
from firmware.sheet.rehearsal import KeySpan, Rehearsal, SoundLevel, TakeNote, held_note
from firmware.sheet.sheet import sheet_html
from firmware.sheet.timing import timed_pulse
from firmware.sheet.timing_csv import timing_header, timing_lines
from firmware.take_events import TakeStarted, TakeStopped
from firmware.takes.markers import vtt_text
from firmware.units import RATE

NAME: Final = "notebook"
ONSETS_KEPT: Final = 64
READ_AFTER: Final = 0.25
READ_BEFORE: Final = 0.05
"""Seconds after and before its onset between which a note's first reading lies."""
ON_THE_SHEET: Final = ("a4", "tuning", "timbre", "drone_level", "pulse_level", "mic_gain", "tolerance")
"""Settings that the sheet lists as they stood at the end."""

Outcome = tuple["NotebookState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class NotebookState:
    """The rehearsal as it stands. Lines are handed on without a stick too: its driver keeps them until there is one."""

    folder: str
    rehearsal: Rehearsal
    values: Values
    timed: bool = False
    """Whether timing.csv has been begun."""
    onsets: tuple[OnsetPlaced, ...] = ()
    """The last ones, so that a held note finds the one that it began with."""
    firsts: tuple[tuple[int, int], ...] = ()
    """Number and first sample of every take."""


def _start(start: Start) -> NotebookState:
    rehearsal = Rehearsal(
        number=start.number,
        title=start.plan.title,
        date=start.date or None,
        tolerance=start.values.number("tolerance"),
    )
    return NotebookState(start.folder, rehearsal, start.values)


def _line(state: NotebookState, name: str, line: str) -> AppendLine:
    return AppendLine(f"{state.folder}/{name}", line)


def _log(state: NotebookState, event: Event) -> Outcome:
    line = event_line(event)
    return state, () if line is None else (_line(state, "log.jsonl", line),)


def _harmony(state: NotebookState, event: HarmonyChanged) -> Outcome:
    span = KeySpan(event.at / RATE, event.harmony.key.text, event.harmony.tuning, event.sounding)
    keys = state.rehearsal.keys
    if not keys or replace(keys[-1], start_s=span.start_s) != span:
        state = replace(state, rehearsal=replace(state.rehearsal, keys=(*keys, span)))
    return _log(state, event)


def _note(state: NotebookState, event: NoteHeld) -> Outcome:
    keys = state.rehearsal.keys
    note = replace(held_note(event, keys[-1].key if keys else ""), late_ms=_lateness(state, event.start))
    head = () if state.rehearsal.notes else (_line(state, "notes.csv", header()),)
    line = _line(state, "notes.csv", note_line(note))
    state = replace(state, rehearsal=replace(state.rehearsal, notes=(*state.rehearsal.notes, note)))
    state, logged = _log(state, event)
    return state, (*logged, *head, line)


def _onset(state: NotebookState, event: OnsetPlaced) -> Outcome:
    return replace(state, onsets=(*state.onsets, event)[-ONSETS_KEPT:]), ()


def _lateness(state: NotebookState, start: int) -> float | None:
    """How late the note began whose first reading is at sample `start`; None if nothing was heard to begin there."""
    near = [one for one in state.onsets if -READ_AFTER * RATE < one.at - start < READ_BEFORE * RATE]
    return min(near, key=lambda one: abs(one.at - start)).late_ms if near else None


def _take_started(state: NotebookState, event: TakeStarted) -> Outcome:
    return _log(replace(state, firsts=(*state.firsts, (event.number, event.first))), event)


def _take_stopped(state: NotebookState, event: TakeStopped) -> Outcome:
    first = dict(state.firsts).get(event.number, event.at)
    file = f"take-{event.number:02d}"
    take = TakeNote(event.number, f"{file}.flac", first / RATE, event.seconds, event.markers)
    state = replace(state, rehearsal=replace(state.rehearsal, takes=(*state.rehearsal.takes, take)))
    state, logged = _log(state, event)
    chapters = WriteText(f"{state.folder}/{file}.vtt", vtt_text(event.markers, event.seconds))
    return state, (*logged, chapters, SheetDue(event.at))


def _setting(state: NotebookState, event: SettingChanged) -> Outcome:
    state = replace(state, values=state.values.put(event.name, event.value))
    if event.name == "reading":
        instrument = instrument_named(str(event.value))
        reading = "" if event.value == "concert" else f"{instrument.title} {instrument.badge}".rstrip()
        state = replace(state, rehearsal=replace(state.rehearsal, reading=reading))
    if event.name == "tolerance":
        state = replace(state, rehearsal=replace(state.rehearsal, tolerance=float(event.value)))
    return _log(state, event)


def _level(state: NotebookState, event: SoundTold) -> Outcome:
    level = SoundLevel(event.seconds, event.mean_db, event.loudest_db, event.calibrated, event.dose, event.counted_s)
    return _log(replace(state, rehearsal=replace(state.rehearsal, level=level)), event)


def _shown(values: Values) -> tuple[tuple[str, str], ...]:
    """The settings that the sheet lists, in words."""
    rows = (setting_named(name) for name in ON_THE_SHEET)
    return tuple((row.help, f"{row.written(values.entries[row.name])} {row.unit}".rstrip()) for row in rows)


def _bar(state: NotebookState, event: BarTimed) -> Outcome:
    head = () if state.timed else (timing_header(),)
    lines = tuple(_line(state, "timing.csv", line) for line in (*head, *timing_lines(event)))
    state, logged = _log(replace(state, timed=True), event)
    return state, (*logged, *lines)


def _timing(state: NotebookState, event: PulseTimed) -> Outcome:
    timings = (*state.rehearsal.timings, timed_pulse(event))
    return _log(replace(state, rehearsal=replace(state.rehearsal, timings=timings)), event)


def _power_down(state: NotebookState, event: PowerDown) -> Outcome:
    state, logged = _log(state, event)
    return state, (*logged, SheetDue(event.at))


def _sheet(state: NotebookState, event: SheetDue) -> Outcome:
    rehearsal = replace(state.rehearsal, seconds=event.at / RATE, settings=_shown(state.values))
    return state, (WriteText(f"{state.folder}/sheet.html", sheet_html(rehearsal)),)


LOGGED: Final[tuple[Address, ...]] = tuple(kind for kind in WHAT if kind is not Wished)
"""Wishes are not logged: what follows from them is."""

NOTEBOOK = Part(
    name=NAME,
    start=_start,
    handlers={
        **dict.fromkeys(LOGGED, _log),
        HarmonyChanged: _harmony,
        NoteHeld: _note,
        OnsetPlaced: _onset,
        BarTimed: _bar,
        PulseTimed: _timing,
        SoundTold: _level,
        TakeStarted: _take_started,
        TakeStopped: _take_stopped,
        SettingChanged: _setting,
        PowerDown: _power_down,
        SheetDue: _sheet,
    },
)
