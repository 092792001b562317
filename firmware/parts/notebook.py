"""The notebook: the log, the notes, the chapters of each take, and the sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.commands import AppendLine, WriteText
from firmware.events import Event, PowerDown, SheetDue, SwitchedOn, Wished
from firmware.heard_events import BarTimed, NoteHeld, OnsetPlaced
from firmware.parts.part import Address, Follow, Part, Start
from firmware.sheet.log_lines import WHAT, Record, event_record, line_of, record
from firmware.sheet.notes_csv import header, note_line
from firmware.sheet.past import Past
from firmware.sheet.sheet import sheet_html
from firmware.sheet.telling import NEEDED, Story, ended, tell
from firmware.sheet.timing_csv import timing_header, timing_lines
from firmware.take_events import TakeSaved, TakesDeleted, TakeStopped
from firmware.takes.markers import vtt_text
from firmware.units import RATE

NAME: Final = "notebook"
ONSETS_KEPT: Final = 64
READ_AFTER: Final = 0.25
READ_BEFORE: Final = 0.05
"""Seconds after and before its onset between which a note's first reading lies."""

Outcome = tuple["NotebookState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class NotebookState:
    """The rehearsal as it stands. Lines are handed on without a stick too: its driver keeps them until there is one."""

    folder: str
    begun: Record
    """The first record of the log: what is known of the rehearsal when it begins."""
    story: Story
    past: tuple[Past, ...] = ()
    timed: bool = False
    """Whether timing.csv has been begun."""
    onsets: tuple[OnsetPlaced, ...] = ()
    """The last ones, so that a held note finds the one that it began with."""


def _start(start: Start) -> NotebookState:
    settings = {name: start.values.entries[name] for name in NEEDED}
    begun = record(0.0, "rehearsal", number=start.number, title=start.plan.title, date=start.date, settings=settings)
    return NotebookState(start.folder, begun, tell(Story(), begun) or Story(), start.past)


def _line(state: NotebookState, name: str, line: str) -> AppendLine:
    return AppendLine(f"{state.folder}/{name}", line)


def _switched_on(state: NotebookState, _event: SwitchedOn) -> Outcome:
    return state, (_line(state, "log.jsonl", line_of(state.begun)),)


def _log(state: NotebookState, event: Event, **more: object) -> Outcome:
    """Write a line, and tell the sheet what stands in it: who reads the log later learns the same."""
    told = event_record(event)
    if told is None:
        return state, ()
    told |= more
    # A figure that is none (not a number, say) leaves a line in the log, and nothing on the sheet.
    return replace(state, story=tell(state.story, told) or state.story), (_line(state, "log.jsonl", line_of(told)),)


def _note(state: NotebookState, event: NoteHeld) -> Outcome:
    late = _lateness(state, event.start)
    before = len(state.story.rehearsal.notes)
    state, logged = _log(state, event, late_ms=None if late is None else round(late, 3))
    fresh = state.story.rehearsal.notes[before:]
    head = (header(),) if fresh and not before else ()
    return state, (*logged, *(_line(state, "notes.csv", line) for line in (*head, *map(note_line, fresh))))


def _onset(state: NotebookState, event: OnsetPlaced) -> Outcome:
    return replace(state, onsets=(*state.onsets, event)[-ONSETS_KEPT:]), ()


def _lateness(state: NotebookState, start: int) -> float | None:
    """How late the note began whose first reading is at sample `start`; None if nothing was heard to begin there."""
    near = [one for one in state.onsets if -READ_AFTER * RATE < one.at - start < READ_BEFORE * RATE]
    return min(near, key=lambda one: abs(one.at - start)).late_ms if near else None


def _take_stopped(state: NotebookState, event: TakeStopped) -> Outcome:
    state, logged = _log(state, event)
    chapters = WriteText(f"{state.folder}/take-{event.number:02d}.vtt", vtt_text(event.markers, event.seconds))
    return state, (*logged, chapters, SheetDue(event.at))


def _take_saved(state: NotebookState, event: TakeSaved) -> Outcome:
    """Write the sheet anew when the take has become several files, which its chapters must know."""
    state, logged = _log(state, event)
    return state, (*logged, SheetDue(event.at)) if len(event.parts) > 1 else logged


def _takes_deleted(state: NotebookState, event: TakesDeleted) -> Outcome:
    state, logged = _log(state, event)
    return state, (*logged, SheetDue(event.at))


def _bar(state: NotebookState, event: BarTimed) -> Outcome:
    head = () if state.timed else (timing_header(),)
    lines = tuple(_line(state, "timing.csv", line) for line in (*head, *timing_lines(event)))
    state, logged = _log(replace(state, timed=True), event)
    return state, (*logged, *lines)


def _power_down(state: NotebookState, event: PowerDown) -> Outcome:
    state, logged = _log(state, event)
    return state, (*logged, SheetDue(event.at))


def _sheet(state: NotebookState, _event: SheetDue) -> Outcome:
    rehearsal = replace(ended(state.story), past=state.past)
    return state, (WriteText(f"{state.folder}/sheet.html", sheet_html(rehearsal)),)


LOGGED: Final[tuple[Address, ...]] = tuple(kind for kind in WHAT if kind is not Wished)
"""Wishes are not logged: what follows from them is."""

NOTEBOOK = Part(
    name=NAME,
    start=_start,
    handlers={
        **dict.fromkeys(LOGGED, _log),
        SwitchedOn: _switched_on,
        NoteHeld: _note,
        OnsetPlaced: _onset,
        BarTimed: _bar,
        TakeStopped: _take_stopped,
        TakesDeleted: _takes_deleted,
        TakeSaved: _take_saved,
        PowerDown: _power_down,
        SheetDue: _sheet,
    },
)
