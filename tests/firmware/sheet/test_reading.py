"""From the files back to the sheet: what is whole is used, what is damaged is counted."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sheet.checked import LONGEST_SECONDS, count_of, number_of, rows_of, table_of, text_of, time_of, truth_of
from firmware.sheet.log_lines import log_line
from firmware.sheet.notes_csv import notes_text, read_notes
from firmware.sheet.reading import Files, read_rehearsal
from firmware.sheet.rehearsal import HeldNote, KeySpan, PlanSpan, PulseSpan, Rehearsal, TakePart, Unread
from firmware.sheet.sheet import sheet_html
from firmware.sheet.telling import Story, ended, reading_title, tell
from firmware.sheet.vtt_reading import read_chapters
from firmware.takes.markers import vtt_text

SETTINGS = {"a4": 442.0, "tuning": "just", "drone_level": -18.0, "tolerance": 8.0, "reading": "clarinet"}
NOTE = {
    "start_s": 2.0,
    "degree": "3",
    "concert": "D4",
    "written": "E4",
    "median_cents": 12.34567,
    "spread_cents": 1.0,
    "beats": 0.5,
    "settled_after": None,
}
LOG = "\n".join(
    (
        log_line(0.0, "rehearsal", number=9, title="Tuesday", date="2026-11-24", settings=SETTINGS),
        log_line(1.0, "harmony", key="B♭ major", tuning="just", sounding=True),
        log_line(1.5, "plan", index=0, title="March"),
        log_line(1.6, "pulse", on=True, tempo=92.0, to=60.0, meter="4/4"),
        log_line(4.0, "note", **NOTE),
        log_line(5.0, "setting", name="reading", value="concert"),
        log_line(6.0, "pulse", on=False),
        log_line(8.0, "note", **NOTE | {"start_s": 7.0}),
        log_line(8.5, "answer", start_s=7.0, degree="3", concert="D4", hz=293.3, octave="same", why="note ended"),
        log_line(9.0, "take-started", number=1, first_s=3.0),
        log_line(20.0, "take-stopped", number=1, seconds=17.0, markers=[[2.5, "Letter A"]]),
        log_line(21.0, "unheard of", whatever=1),
        log_line(30.0, "power-down"),
    )
)
FILES = {1: (TakePart("take-01.flac", 17.0),)}


def test_the_log_tells_the_rehearsal() -> None:
    told = read_rehearsal(Files("0009 2026-11-24", LOG, takes=FILES))
    assert (told.number, told.title, told.date, told.seconds, told.tolerance) == (9, "Tuesday", "2026-11-24", 30.0, 8.0)
    assert told.keys == (KeySpan(1.0, "B♭ major"),)
    assert told.steps == (PlanSpan(1.5, "March"),)
    assert told.answers == ("3",)
    assert told.pulses == (PulseSpan(1.6, 92.0, 60.0, "4/4"), PulseSpan(6.0, 0.0, 0.0))
    assert [(note.section, note.key, note.median_cents) for note in told.notes] == [
        ("clarinet in B♭", "B♭ major", 12.346),
        ("", "B♭ major", 12.346),
    ]
    (take,) = told.takes
    assert (take.start_s, take.seconds, take.markers, take.parts) == (3.0, 17.0, ((2.5, "Letter A"),), FILES[1])
    assert ("pitch standard: A4 (ISO 16 says 440)", "442 Hz") in told.settings
    assert told.unread == ()


def test_lines_that_cannot_be_read_are_counted_and_the_others_used() -> None:
    lines = LOG.split("\n")
    lines[2] = lines[2][:20]
    lines[4] = log_line(4.0, "note", **NOTE | {"median_cents": "twelve"})
    lines.insert(3, "[" * 100_000)
    told = read_rehearsal(Files("0009", "\n".join(lines), takes=FILES))
    assert told.unread == (Unread("log.jsonl", 3),)
    assert len(told.notes) == 1
    assert "3 lines of log.jsonl could not be read." in sheet_html(told)


def test_notes_of_the_table_count_before_those_of_the_log() -> None:
    anew = HeldNote(2.0, 4.0, "3", "D4", "E4", 1.0, 1.0, None, 0.5, "B♭ major", None, "clarinet in B♭")
    told = read_rehearsal(Files("0009", LOG, notes_text([anew]), takes=FILES))
    assert told.notes == (anew,)
    damaged = read_rehearsal(Files("0009", LOG, "nothing of ours\n1,2,3\n", takes=FILES))
    assert len(damaged.notes) == 2
    assert damaged.unread == (Unread("notes.csv", 2),)


def test_a_spreadsheet_may_have_saved_the_table() -> None:
    text = "\ufeffdegree;start_s;end_s;concert;written;median_cents;mine\r\nb7;1,5;2,5;Bb3;C#4;-3,25;x\r\n;;;;;;\r\n"
    read = read_notes(text)
    (note,) = read.notes
    assert (note.degree, note.concert, note.written) == ("♭7", "B♭3", "C♯4")
    assert (note.start_s, note.end_s, note.median_cents) == (1.5, 2.5, -3.25)
    assert read.unread == 1


def test_a_stray_quote_costs_its_own_line_only() -> None:
    note = HeldNote(1.0, 2.0, "3", "D4", "E4", 1.0, 1.0)
    head, one, two, three = notes_text([note, replace(note, start_s=1.5), replace(note, start_s=1.7)]).splitlines()
    read = read_notes("\n".join((head, one, '"' + two, three)))
    assert (len(read.notes), read.unread) == (2, 1)


def test_chapters_beside_the_take_count_before_its_markers() -> None:
    edited = vtt_text([(2.5, "Letter B"), (9.0, "New <here>")], 17.0)
    (take,) = read_rehearsal(Files("0009", LOG, chapters={1: edited}, takes=FILES)).takes
    assert take.markers == ((2.5, "Letter B"), (9.0, "New <here>"))
    broken = read_rehearsal(Files("0009", LOG, chapters={1: "WEBVTT\n\n1\n00:00:0x --> 3\nOh\n"}, takes=FILES))
    assert broken.takes[0].markers == ((2.5, "Letter A"),)
    assert broken.unread == (Unread("take-01.vtt", 3),)


def test_a_take_that_was_deleted_is_said_to_be_gone_and_an_unknown_file_is_a_take() -> None:
    told = read_rehearsal(Files("0009", LOG, takes={2: (TakePart("take-02.flac", 4.0),)}))
    assert [(take.number, take.parts != (), take.seconds) for take in told.takes] == [(1, False, 17.0), (2, True, 4.0)]
    page = sheet_html(told)
    assert "no longer beside this sheet" in page
    assert 'src="take-01.flac"' not in page
    assert 'src="take-02.flac"' in page


def test_the_files_of_a_take_are_known_once_it_is_saved() -> None:
    stopped = log_line(20.0, "take-stopped", number=1, seconds=30.0, markers=[[25.0, "Letter A"]])
    saved = log_line(
        21.0, "take-saved", number=1, parts=[["rehearsals/0009/take-01.flac", 57_600_000], ["x/b.flac", 1]]
    )
    story = Story()
    for line in (stopped, saved):
        story = tell(story, json.loads(line)) or story
    (take,) = ended(story).takes
    assert take.parts == (TakePart("take-01.flac", 1200.0), TakePart("b.flac", 1 / 48_000))
    assert tell(story, json.loads(saved) | {"parts": [["a", -1]]}) is None


def test_a_folder_without_anything_has_a_sheet_too() -> None:
    told = read_rehearsal(Files("0012 2026-11-25"))
    assert told == Rehearsal(12, date="2026-11-25")
    assert read_rehearsal(Files("odd name")).number == 0
    alone = read_rehearsal(Files("0003", None, notes_text([HeldNote(1.0, 2.0, "3", "D4", "E4", 1.0, 1.0)])))
    assert alone.seconds == 2.0


def test_a_part_of_a_cue_may_be_damaged() -> None:
    text = (
        "\ufeffWEBVTT\r\n\r\nNOTE mine\r\n\r\n01:02.500 --> 01:03.000\r\n<b>A</b> &amp; B\r\n\r\n"
        "2\r\n01:99.000 --> 02:00.000\r\nbad\r\n\r\n3\r\n100:00:00.000 --> 100:00:01.000\r\nlate\r\n\r\n"
        "00:04.000 --> 00:05.000 align:start\r\n"
    )
    read = read_chapters(text)
    assert read.markers == ((4.0, "Marker 2"), (62.5, "A & B"))
    assert read.unread == 6
    assert read_chapters("").markers == ()


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_damage_to_any_file_leaves_a_sheet_of_the_rest(data: st.DataObject) -> None:
    whole = notes_text(read_rehearsal(Files("0009", LOG)).notes)
    damaged = []
    for text in (LOG, whole, vtt_text([(2.5, "Letter A")], 17.0)):
        at = data.draw(st.integers(0, len(text)))
        length = data.draw(st.integers(0, 40))
        damaged.append(text[:at] + data.draw(st.text(max_size=20)) + text[at + length :])
    log, notes, chapters = damaged
    told = read_rehearsal(Files("0009", log, notes, {1: chapters}, FILES))
    lines = sum(text.count("\n") for text in damaged) + 3
    assert sum(one.lines for one in told.unread) <= lines
    page = sheet_html(told)
    assert page.startswith("<!DOCTYPE html>")
    assert ("could not be read" in page) == bool(told.unread)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.one_of(st.text(), st.binary().map(lambda raw: raw.decode("utf-8", "replace"))), max_size=4))
def test_files_of_anything_leave_a_sheet(texts: list[str]) -> None:
    log, notes, chapters = (*texts, "", "", "")[:3]
    assert "<h1" in sheet_html(read_rehearsal(Files("0009", log, notes, {1: chapters}, FILES)))


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(LOG.split("\n")), st.data())
def test_a_record_with_any_other_value_is_told_or_refused(line: str, data: st.DataObject) -> None:
    record = json.loads(line)
    record[data.draw(st.sampled_from(sorted(record)))] = data.draw(JSON)
    told = tell(Story(), record)
    assert told is None or "<h1" in sheet_html(ended(told))


def test_a_plan_brings_its_title_and_the_notes_of_its_steps() -> None:
    lines = (
        log_line(0.0, "plan-opened", title="Tuesday", values=[]),
        log_line(5.0, "plan", index=0, title="March", notes="watch the <third>"),
        log_line(9.0, "plan-opened", title="Concert", values=[]),
        log_line(10.0, "plan-opened", title="Tuesday", values=[]),
        log_line(11.0, "plan-opened", title="", values=[]),
    )
    told = read_rehearsal(Files("0009", "\n".join(lines)))
    assert (told.title, told.unread) == ("Tuesday · Concert", ())
    assert told.steps == (PlanSpan(5.0, "March", "watch the <third>"),)
    assert '<bdi>March</bdi></dt><dd dir="auto">watch the &lt;third&gt;</dd>' in sheet_html(told)


def test_values_of_another_kind_are_refused() -> None:
    for check, value in (
        (number_of, float("nan")),
        (number_of, True),
        (number_of, 2e6),
        (number_of, "1"),
        (time_of, -1.0),
        (time_of, LONGEST_SECONDS + 1),
        (count_of, 1.5),
        (text_of, 1),
        (truth_of, 1),
        (table_of, []),
        (rows_of, {}),
    ):
        with pytest.raises((ValueError, TypeError)):
            check(value)


def test_half_characters_become_question_marks() -> None:
    assert text_of("a\ud800") == "a?"


def test_a_section_is_called_once_by_its_key() -> None:
    assert reading_title("clarinet") == "clarinet in B♭"
    assert reading_title("horn").count("in F") == 1
    assert reading_title("concert") == ""
    assert reading_title("no such") == ""
