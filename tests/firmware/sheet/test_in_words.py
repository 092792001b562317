"""The sheet in the room's words, from records that stay English and in figures."""

from __future__ import annotations

import re
from dataclasses import replace

from firmware.music.degree_names import MOVABLE_DO
from firmware.music.languages.fixed_do import FIXED_DO
from firmware.music.languages.german import GERMAN
from firmware.music.words import Words
from firmware.sheet.figures import degree_order
from firmware.sheet.in_words import in_words
from firmware.sheet.notes_csv import header, note_line, read_notes
from firmware.sheet.past import Past
from firmware.sheet.rehearsal import ChordCheck, ChordMember, DrillAnswer, HeldNote, KeySpan, Rehearsal
from firmware.sheet.sheet import sheet_html
from firmware.sheet.telling import Story, tell

NOTE = HeldNote(
    start_s=1.0, end_s=3.0, degree="3", concert="D♯4", written="B4", median_cents=12.0, spread_cents=1.0, beats=2.0,
    steadiness_cents=1.0, players="one", settled_after_s=None, key="B major", section="clarinet in B♭",
)  # fmt: skip
MINOR = replace(NOTE, start_s=11.0, end_s=12.0, key="B minor", concert="D4", written="B♭4")
TOLD = Rehearsal(
    4,
    seconds=20.0,
    keys=(KeySpan(0.0, "B major"), KeySpan(10.0, "B minor")),
    notes=(*(replace(NOTE, start_s=float(n)) for n in range(1, 7)), *(MINOR for _ in range(6))),
    answers=("3", "5"),
    chords=(ChordCheck(11.0, 2.0, "B minor", "1", (ChordMember("3", "D4", 4.0, "even"),)),),
    drills=(DrillAnswer(2.0, "settle", "Horns", "degree 3 by the knob", "3", 20.0, 2.0, 3.0),),
    reading="clarinet in B♭",
    words=Words(GERMAN),
)


def test_notes_keys_parts_and_chords_are_said_as_the_room_does() -> None:
    said = in_words(TOLD)
    assert [span.key for span in said.keys] == ["H major", "H minor"]
    assert (said.notes[0].key, said.notes[0].concert, said.notes[0].section) == ("H major", "Dis4", "clarinet in B")
    assert (said.chords[0].chord, said.chords[0].members[0].note, said.reading) == ("H minor", "D4", "clarinet in B")
    assert in_words(replace(TOLD, words=Words())).notes == TOLD.notes


def test_the_page_has_no_english_name_left() -> None:
    page = sheet_html(TOLD)
    text = re.sub(r"<[^>]*>", " ", page[page.index("<body>") :])
    for name in ("H major", "H minor", "Dis4", "H4", "B4", "clarinet in B"):
        assert name in text, name
    assert "♭" not in text.replace("flat", "")
    assert "♯" not in text
    assert "Si4" in sheet_html(replace(TOLD, words=Words(FIXED_DO)))
    english = sheet_html(replace(TOLD, words=Words()))
    assert "B♭4" in english
    assert "H major" not in english


def test_written_notes_stay_from_low_to_high() -> None:
    notes = [replace(NOTE, start_s=n, written=name) for n in range(1, 7) for name in ("C5", "B4", "B♭4", "A4")]
    page = sheet_html(replace(TOLD, notes=tuple(notes)))
    picture = page[page.index('id="written"') :]
    places = [picture.index(f">{name}<") for name in ("A4", "B4", "H4", "C5")]
    assert places == sorted(places)


def test_movable_do_tells_the_thirds_of_major_and_minor_apart() -> None:
    said = in_words(replace(TOLD, words=Words(degrees=MOVABLE_DO)))
    assert [said.notes[0].degree, said.notes[-1].degree] == ["mi", "me"]
    assert (said.chords[0].members[0].degree, said.drills[0].degree) == ("me", "mi")
    assert said.answers == ("3", "5"), "of these nobody knows any more in which of both modes they were"
    one_mode = replace(TOLD, keys=TOLD.keys[:1], words=Words(degrees=MOVABLE_DO))
    assert in_words(one_mode).answers == ("mi", "sol")
    assert sorted(["sol", "me", "do", "ti", "mi"], key=degree_order) == ["do", "me", "mi", "sol", "ti"]
    assert ">me<" in sheet_html(replace(TOLD, words=Words(degrees=MOVABLE_DO)))


def test_the_story_knows_the_rooms_words() -> None:
    begun = {"t": 0.0, "what": "rehearsal", "number": 1, "title": "", "date": "", "settings": {"note_names": "german"}}
    story = tell(Story(), begun)
    assert story is not None
    assert story.rehearsal.words == Words(GERMAN)
    changed = tell(story, {"t": 1.0, "what": "setting", "name": "degree_names", "value": "movable-do"})
    assert changed is not None
    assert changed.rehearsal.words == Words(GERMAN, MOVABLE_DO)


def test_notes_csv_says_that_it_is_english() -> None:
    table = f"{header()}\n{note_line(replace(NOTE, written='B4'))}\n"
    assert header().endswith(",names")
    assert table.rstrip().endswith(",english")
    assert read_notes(table).notes == (NOTE,)
    assert read_notes(table.replace("english", "german")).unread == 1
    old = "\n".join(line.rpartition(",")[0] for line in table.rstrip().split("\n"))
    assert read_notes(old).notes == (NOTE,)


def test_in_movable_do_earlier_rehearsals_and_drills_are_still_known() -> None:
    past = (Past(3, degrees=(("3", -7.0, 6), ("♭3", 5.0, 6))),)
    page = sheet_html(replace(TOLD, words=Words(degrees=MOVABLE_DO), past=past))
    page = page[page.index("<body>") :]  # what the next sheet reads, before it, stays in figures
    assert "degree mi by the knob" in page
    assert "degree 3" not in page
    row = next(line for line in re.findall(r"<tr>.*?</tr>", page) if "mi" in line and "+12" in line)
    assert "−7" in row
