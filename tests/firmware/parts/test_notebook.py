"""The notebook: every line, the notes, the chapters and the sheet, as commands."""

from __future__ import annotations

import json
import math
from dataclasses import replace

from firmware.commands import AppendLine, WriteText
from firmware.events import Event, HarmonyChanged, PowerDown, SettingChanged, SheetDue
from firmware.heard_events import NoteHeld, OnsetPlaced
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.parts.notebook import NOTEBOOK, NotebookState
from firmware.parts.part import Start, address_of
from firmware.plan.plan import Plan
from firmware.sheet.notes_csv import header
from firmware.take_events import TakeSaved, TakeStarted, TakeStopped
from firmware.units import RATE

FOLDER = "rehearsals/0042 2026-11-25"
HERE = Start(number=42, date="2026-11-25", stick=True, plan=Plan("Tuesday"))
NOTE = NoteHeld(
    at=4 * RATE,
    start=2 * RATE,
    degree="3",
    concert="D4",
    written="E4",
    median_cents=7.5,
    spread_cents=1.0,
    beats=1.25,
    settled_after=None,
)


def run(*events: Event, state: NotebookState | None = None) -> tuple[NotebookState, list[object]]:
    state = state or NOTEBOOK.start(HERE)
    follow: list[object] = []
    for event in events:
        state, more = NOTEBOOK.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def test_a_held_note_goes_to_the_log_and_to_the_notes_with_one_header() -> None:
    _, follow = run(NOTE, NOTE)
    lines = [command for command in follow if isinstance(command, AppendLine)]
    assert [line.path for line in lines].count(f"{FOLDER}/notes.csv") == 3
    notes = [line.line for line in lines if line.path.endswith("notes.csv")]
    assert notes[0] == header()
    assert "7.5" in notes[1]
    logged = json.loads(next(line.line for line in lines if line.path.endswith("log.jsonl")))
    assert (logged["t"], logged["what"], logged["written"]) == (4.0, "note", "E4")


def test_a_note_tells_how_late_it_began() -> None:
    near = OnsetPlaced(NOTE.start - 3000, 2, "3", -12.5)
    far = OnsetPlaced(NOTE.start - RATE, 1, "1", 99.0)
    for onsets, late in (((near, far), ",-12.5"), ((far,), ","), ((), ",")):
        _, follow = run(*onsets, NOTE)
        (line,) = [one.line for one in follow if isinstance(one, AppendLine) and "median" not in one.line]
        assert line.removesuffix(",english").endswith(late)


def test_keys_are_kept_when_they_change() -> None:
    harmony = Harmony(key_of("Bb", "major"))
    state, _ = run(
        HarmonyChanged(0, harmony, (), sounding=False),
        HarmonyChanged(RATE, harmony, (), sounding=False),
        HarmonyChanged(2 * RATE, harmony, (), sounding=True),
        NOTE,
    )
    assert [(span.start_s, span.sounding) for span in state.story.rehearsal.keys] == [(0.0, False), (2.0, True)]
    assert state.story.rehearsal.notes[0].key == "B♭ major"


def test_a_take_gets_its_chapters_and_the_sheet() -> None:
    markers = ((1.5, "Marker 1"),)
    _, follow = run(TakeStarted(10 * RATE, 1, 2 * RATE), TakeStopped(12 * RATE, 1, 10.0, markers))
    chapters = next(command for command in follow if isinstance(command, WriteText))
    assert chapters.path == f"{FOLDER}/take-01.vtt"
    assert "00:00:01.500 --> 00:00:10.000\nMarker 1" in chapters.text
    assert follow[-1] == SheetDue(12 * RATE)


def test_the_sheet_knows_what_went_before() -> None:
    state, _ = run(TakeStarted(10 * RATE, 1, 2 * RATE), TakeStopped(12 * RATE, 1, 10.0, ()), NOTE)
    state, follow = run(PowerDown(20 * RATE), state=state)
    assert follow[-1] == SheetDue(20 * RATE)
    _, (sheet,) = run(SheetDue(20 * RATE), state=state)
    assert isinstance(sheet, WriteText)
    assert sheet.path == f"{FOLDER}/sheet.html"
    for text in ("42", "Tuesday", "2026-11-25", "take-01.flac", "D4"):
        assert text in sheet.text, text


def test_settings_that_matter_to_the_sheet() -> None:
    state, _ = run(SettingChanged(0, "tolerance", 8), SettingChanged(0, "reading", "trumpet"))
    assert (state.story.rehearsal.tolerance, state.story.rehearsal.reading) == (8.0, "trumpet in B♭")
    _, (sheet,) = run(SheetDue(1), state=state)
    assert isinstance(sheet, WriteText)
    assert "440 Hz" in sheet.text
    assert "8 cents" in sheet.text
    assert "harms hearing" in sheet.text
    state, _ = run(SettingChanged(0, "reading", "concert"), SettingChanged(0, "tempo", 90.0), state=state)
    assert state.story.rehearsal.reading == ""


def test_a_box_without_a_clock_has_only_a_number() -> None:
    _, follow = run(PowerDown(0), state=NOTEBOOK.start(Start(number=3)))
    assert isinstance(follow[0], AppendLine)
    assert follow[0].path == "rehearsals/0003/log.jsonl"


def test_a_take_in_several_files_is_put_on_the_sheet_when_it_is_saved() -> None:
    parts = (("rehearsals/0042/take-01.flac", 5 * RATE), ("rehearsals/0042/take-01-2.flac", 5 * RATE))
    stopped = TakeStopped(12 * RATE, 1, 10.0, ((7.0, "Letter A"),))
    state, follow = run(TakeStarted(10 * RATE, 1, 2 * RATE), stopped, TakeSaved(13 * RATE, 1, 10 * RATE, parts))
    assert follow[-1] == SheetDue(13 * RATE)
    _, (sheet,) = run(SheetDue(13 * RATE), state=state)
    assert isinstance(sheet, WriteText)
    assert 'data-player="take-1-2" data-at="2.000"' in sheet.text
    _, follow = run(TakeSaved(13 * RATE, 1, 10 * RATE, parts[:1]), state=state)
    assert not any(isinstance(one, SheetDue) for one in follow)


def test_a_figure_that_is_none_stays_off_the_sheet_and_the_box_goes_on() -> None:
    state, follow = run(replace(NOTE, median_cents=math.nan), NOTE)
    assert len(state.story.rehearsal.notes) == 1
    assert [one.line.split(",")[0] for one in follow if isinstance(one, AppendLine) and "csv" in one.path] == [
        "start_s",
        "2",
    ]
