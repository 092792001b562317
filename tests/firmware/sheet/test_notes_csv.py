"""notes.csv can be read back by Python's own csv module."""

import csv
import io
import math
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sheet.notes_csv import COLUMNS, header, note_line, notes_text
from firmware.sheet.rehearsal import HeldNote, Rehearsal


def test_the_file_has_a_header_and_a_line_a_note(rehearsal: Rehearsal):
    rows = list(csv.DictReader(io.StringIO(notes_text(rehearsal.notes))))
    assert len(rows) == 6
    assert rows[0] == {
        "start_s": "6",
        "end_s": "8",
        "key": "Bb major",
        "section": "clarinet in Bb",
        "degree": "3",
        "written": "E4",
        "concert": "D4",
        "median_cents": "14",
        "spread_cents": "1.5",
        "beats": "2.1",
        "steadiness_cents": "",
        "players": "",
        "settled_after_s": "",
        "late_ms": "",
        "names": "english",
    }
    assert rows[4]["degree"] == "b7"


def test_every_column_is_explained():
    assert header().split(",") == [name for name, _ in COLUMNS]
    assert all(meaning for _, meaning in COLUMNS)


def test_the_file_is_plain_ascii_for_notes_with_accidentals(rehearsal: Rehearsal):
    odd = replace(rehearsal.notes[0], written="C♯5", concert="B𝄫4", degree="♮7")
    assert ",7,C#5,Bbb4," in note_line(odd)
    assert note_line(odd).isascii()


def test_what_a_spreadsheet_would_run_as_a_formula_is_a_text(rehearsal: Rehearsal):
    assert ",'=1+1," in note_line(replace(rehearsal.notes[0], written="=1+1"))


def test_figures_that_are_none_are_empty_and_zero_has_no_sign(rehearsal: Rehearsal):
    line = note_line(replace(rehearsal.notes[0], median_cents=-0.0001, spread_cents=math.nan, beats=math.inf))
    assert line.endswith(",0,,,,,,,english")


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=30), st.floats(allow_nan=True))
def test_any_text_and_any_number_make_one_row(text: str, number: float):
    row = next(csv.reader([note_line(HeldNote(number, number, text, text, text, number, number))]))
    assert len(row) == len(COLUMNS)
