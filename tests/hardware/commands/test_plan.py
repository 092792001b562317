"""`keelnote plan`: what it prints, what it writes, how it ends."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path

import pytest

from firmware.errors import BadFileError, OutOfRangeError
from firmware.plan.plan import read_plan
from hardware.commands import plan

Call = Callable[..., tuple[int, str]]

SCORE = """<score-partwise><movement-title>Quay March</movement-title><part-list/><part id="P1">
<measure number="1"><attributes><divisions>1</divisions><key><fifths>-1</fifths><mode>major</mode></key>
<time><beats>2</beats><beat-type>4</beat-type></time><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>
</transpose></attributes><direction><direction-type><words>Allegro</words></direction-type></direction>
<note><rest/><duration>2</duration></note></measure>
<measure number="2"><direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>
<note><rest/><duration>2</duration></note><barline><repeat direction="backward"/></barline></measure>
</part></score-partwise>"""


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run the command with some words: how it ended, and what it printed."""

    def go(*words: object) -> tuple[int, str]:
        parser = ArgumentParser()
        plan.add_arguments(parser)
        status = plan.run(parser.parse_args([str(word) for word in words]))
        return status, capsys.readouterr().out

    return go


def test_a_new_plan_passes_its_own_check(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "new.toml"
    status, text = call("--new")
    assert (status, read_plan(text)[1]) == (0, ())
    assert call("--new", "--out", file) == (0, "")
    assert file.read_text(encoding="utf-8") == text
    status, table = call(file)
    assert status == 0
    assert table.startswith("Thursday, wind band, a4 442")
    assert table.endswith("8 steps, 37 minutes.\n")
    (row,) = [line for line in table.splitlines() if "letter B" in line]
    assert row.split()[:10] == ["3", "Quay", "March,", "letter", "B", "12", "Eb", "108", "4/4x7", "3/4"]


def test_every_error_is_named_and_the_good_steps_are_shown(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "bad.toml"
    file.write_text('[[step]]\ntitle = "Hymn"\ntonik = "C"\ntempo = 900\n[[step]\n[[step]]\ntitle = "Tutti"\n')
    status, text = call(file)
    assert status == 2
    assert f"{file}, line 3: step.tonik" in text
    assert "from 20 to 300" in text
    assert f"{file}, line 5: column" in text
    assert "Hymn" in text
    assert "Tutti" in text


def test_a_file_without_any_step(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "empty.toml"
    file.write_text("")
    assert call(file) == (0, "A plan without a title\nIt has no steps.\n")
    file.write_text("title = ")
    status, text = call(file)
    assert (status, text.count("\n")) == (2, 1)


def test_a_score_becomes_a_plan(call: Call, tmp_path: Path) -> None:
    score, out = tmp_path / "march.musicxml", tmp_path / "plan.toml"
    score.write_text(SCORE)
    status, text = call(score, "--out", out)
    assert status == 0
    assert "Quay March" in text
    made, problems = read_plan(out.read_text(encoding="utf-8"))
    assert problems == ()
    assert [step.title for step in made.steps] == ["Bar 1: Allegro", "A", "Bar 1: Allegro, 2nd time", "A, 2nd time"]
    assert dict(made.steps[0].values)["tonic"] == "Eb"
    assert "4 steps." in call(out)[1]
    assert "2 steps." in call(score, "--once")[1]


def test_json_is_one_object(call: Call, tmp_path: Path) -> None:
    score = tmp_path / "march.xml"
    score.write_text(SCORE)
    told = json.loads(call(score, "--json")[1])
    assert list(told) == ["title", "names", "values", "steps", "problems", "remarks"]
    first = {"tonic": "Eb", "mode": "major", "reading": "concert", "tempo": 132.0, "meter": "2/4", "pickup": 0.0}
    assert told["steps"][0]["values"] == first
    assert set(told["steps"][0]) == {"title", "values", "marker", "notes", "minutes", "take", "drill"}


def test_long_titles_are_cut_in_the_table(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "long.toml"
    file.write_text('[[step]]\nmeter = "' + "4/4 3/4 " * 14 + '"\n')
    assert "…" in call(file)[1]


def test_what_can_not_be_used_is_refused(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "plan.toml"
    file.write_text("")
    with pytest.raises(OutOfRangeError, match="--new"):
        call("--new", file)
    with pytest.raises(OutOfRangeError, match="a plan or a score"):
        call()
    for name in ("missing.toml", "no\0name"):
        with pytest.raises(BadFileError, match="could not be read"):
            call(tmp_path / name)
    with pytest.raises(BadFileError, match="could not be written"):
        call(file, "--out", tmp_path / "missing" / "plan.toml")


def test_a_plan_is_printed_and_written_in_the_rooms_note_names(call: Call, tmp_path: Path) -> None:
    plan = tmp_path / "tuesday.toml"
    plan.write_text('names = "english"\n[[step]]\ntonic = "B"\nprogression = "Bm F#7"\n')
    status, text = call(plan, "--names", "german", "--out", tmp_path / "out.toml")[:2]
    assert status == 0
    assert "H" in text.splitlines()[3].split()
    assert "progression Hm Fis7" in text
    assert "names its notes in English" in text
    assert 'names = "german"' in (tmp_path / "out.toml").read_text(encoding="utf-8")
    assert call(tmp_path / "out.toml")[0] == 0
    assert 'tonic = "Sib"' in call("--new", "--names", "fixed-do")[1]
    plan.write_text('[[step]]\ntonic = "B"\n')
    status, text = call(plan, "--names", "german")[:2]
    assert (status, "remark: B is read in German" in text) == (0, True)


def test_an_own_tuning_is_looked_up_beside_the_plan(call: Call, tmp_path: Path) -> None:
    (tmp_path / "plans").mkdir()
    plan = tmp_path / "plans" / "a.toml"
    plan.write_text('[[step]]\ntuning = "hall"\n')
    status, text = call(plan)
    assert (status, "it must be on the stick as tunings/hall.toml" in text) == (0, True)
    (tmp_path / "tunings").mkdir()
    assert call(plan)[0] == 2
    (tmp_path / "tunings" / "hall.toml").write_text("[intervals]\n")
    status, text = call(plan)
    assert (status, "remark" in text) == (0, False)
