"""Scripts are read whole, and everything wrong in them is named with its line."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError
from firmware.settings import DEFAULTS
from hardware.simulated.room import Room
from hardware.simulated.script import (
    BadScriptError,
    Cue,
    Play,
    Script,
    Shot,
    load_script,
    parse_script,
    shipped_scripts,
)

GOOD = """
title = "Two bars"
seconds = 10
seed = 7

[settings]
tonic = "F#"
a4 = 442

[room]
rt60 = 1.2

[plan]
title = "Evening"
[[plan.step]]
title = "One"
tonic = "B♭"

[[player]]
name = "anna"
timbre = "flute"
level_db = -30

[[cue]]
at = 5
hold_turn = {key = "Pulse", steps = -3}
[[cue]]
at = 1
tap = "Drone"
[[cue]]
at = 2
hold = "Take"
seconds = 1.5
[[cue]]
at = 3
push = true
[[cue]]
at = 4
turn = -2
[[cue]]
at = 4
pedal = "right"

[[play]]
at = 2
player = "anna"
degree = "b3"
cents = 5
[[play]]
at = 1
player = "anna"
note = "Bb4"
level_db = -20
settle_to = 0

[[shot]]
at = 10
caption = "The end"
"""


def parsed(text: str, folder: Path = Path()) -> Script:
    return parse_script(text, "test.toml", folder)


def problems(text: str, folder: Path = Path()) -> list[str]:
    with pytest.raises(BadScriptError) as caught:
        parsed(text, folder)
    assert caught.value.text.count("\n") + 1 == len(caught.value.problems)
    return caught.value.text.split("\n")


def test_a_whole_script():
    script = parsed(GOOD)
    assert (script.title, script.seconds, script.seed) == ("Two bars", 10.0, 7)
    assert script.settings == DEFAULTS.put("tonic", "F#").put("a4", 442.0)
    assert script.room == Room(rt60=1.2)
    assert [step.title for step in script.plan.steps] == ["One"]
    assert dict(script.plan.steps[0].values)["tonic"] == "Bb"
    assert script.cues == (
        Cue(1.0, "tap", "Drone"),
        Cue(2.0, "hold", "Take", seconds=1.5),
        Cue(3.0, "push"),
        Cue(4.0, "turn", steps=-2),
        Cue(4.0, "pedal", "right"),
        Cue(5.0, "hold_turn", "Pulse", -3),
    )
    (anna,) = script.players
    assert script.plays == (
        Play(1.0, anna, 4.0, note="B♭4", level_db=-20.0),
        Play(2.0, anna, 4.0, degree="♭3", cents=5.0, settle_to=5.0, level_db=-30.0),
    )
    assert script.shots == (Shot(10.0, "The end"),)


def test_without_shots_the_screen_is_photographed_after_each_cue():
    script = parsed('seconds = 3\n[[cue]]\nat = 1\ntap = "Ear"\n[[cue]]\nat = 2.5\npush_turn = 2\n')
    assert script.shots == (Shot(2.0, "tap Ear"), Shot(3.0, "push turn"))


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("secnds = 3", ["line 1: seconds (nothing)", "line 3: secnds 3", "Did you mean seconds"]),
        ("seconds = 'long'", ["line 3: seconds 'long'", "a number from 1 to 7200"]),
        ("seconds = 5\n[room]\nrt60 = -1", ["line 5: room.rt60 -1", "a number from 0 to 6"]),
        ("seconds = 5\n[settings]\nmode = 'majr'", ["line 5: settings.mode 'majr'", "Did you mean major?"]),
        ("seconds = 5\n[[plan.step]]\ntonic = 'H'", ["line 5: plan.step.tonic 'H'"]),
        ("seconds = 5\n[[cue]]\nat = 1\ntap = 'Dron'", ["line 6: cue.tap 'Dron'", "Did you mean Drone?"]),
        ("seconds = 5\n[[cue]]\nat = 1", ["line 4: cue 'no action'", "exactly one of tap, hold,"]),
        ("seconds = 5\n[[cue]]\nat = 1\ntap = 'Ear'\nturn = 0", ["line 4: cue 'tap and turn'"]),
        ("seconds = 5\n[[cue]]\nat = 6\npush = true", ["line 4: cue.at 6.0", "the rehearsal ends at 5 s"]),
        ("seconds = 5\n[[cue]]\nat = 1\npush = false", ["line 4: cue 'no action'"]),
        ("seconds = 5\n[[cue]]\nat = 1\nhold_turn.key = 'Ear'", ["line 6: cue.hold_turn.steps (nothing)"]),
        ("seconds = 5\n[[cue]]\ntap = 'Ear'", ["line 4: cue.at (nothing)"]),
        ("seconds = 5\n[[play]]\nat = 1\nplayer = 'x'\ndegree = '1'", ["line 4: play.player 'x'", "none, write a"]),
        ("seconds = 5\n[[player]]\nname = 'x'\ntimbre = 'kazoo'", ["line 6: player.timbre 'kazoo'", "flute, "]),
        ("seconds = 5\n[[shot]]\nat = 5.1", ["line 4: shot.at 5.1"]),
        ("seconds = 5\nplan_file = 'no.toml'", ["plan_file 'no.toml'", "No such file"]),
        ("seconds = 5\ntitle = ", ["line 4: column 9 'title ='", "this is not TOML"]),
    ],
)
def test_everything_wrong_is_named(line: str, wanted: list[str]):
    text = "\n".join(problems(f"# a comment\n\n{line}\n"))
    assert [words for words in wanted if words not in text] == []
    assert "test.toml, line" in text


def test_plays_need_a_player_and_one_pitch():
    player = '[[player]]\nname = "x"\ntimbre = "horn"\n'
    for pitch in ("", 'note = "C4"\ndegree = "1"', 'degree = "8"', 'note = "C"', 'degree = "bb3"'):
        (line,) = problems(f'seconds = 5\n{player}[[play]]\nat = 1\nplayer = "x"\n{pitch}\n')
        assert "play." in line


def test_two_players_of_one_name():
    player = '[[player]]\nname = "x"\ntimbre = "horn"\n'
    (line,) = problems(f"seconds = 5\n{player}{player}")
    assert "line 5: player.name 'x'" in line


def test_all_problems_are_listed_in_the_order_of_the_lines():
    lines = problems('seconds = 5\nseed = -1\n[[cue]]\nat = 9\ntap = "Ear"\n[room]\nrt61 = 3\n')
    assert [line.split(":")[0] for line in lines] == [f"test.toml, line {number}" for number in (2, 3, 7)]


def test_a_plan_beside_the_script(tmp_path: Path):
    (tmp_path / "plan.toml").write_text('title = "Winter"\n[[step]]\ntitle = "One"\n', encoding="utf-8")
    script = parsed("seconds = 5\nplan_file = 'plan.toml'", tmp_path)
    assert (script.plan.title, len(script.plan.steps)) == ("Winter", 1)
    (tmp_path / "plan.toml").write_text("title = 1\n", encoding="utf-8")
    assert problems("seconds = 5\nplan_file = 'plan.toml'", tmp_path)[0].startswith("plan.toml, line 1: title 1")


def test_scripts_are_loaded_from_files_and_by_name(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert load_script(path) == load_script(str(path)) == parsed(GOOD)
    assert load_script() == load_script("saltmarsh-lane")
    path.write_bytes(b"title = '\xff'\nseconds = 3\n")
    with pytest.raises(BadScriptError, match="line 1: encoding"):
        load_script(path)


@pytest.mark.parametrize("name", ["nothing.toml", "", "a\0b"])
def test_a_script_that_is_not_there(name: str, tmp_path: Path):
    with pytest.raises(BadFileError, match="saltmarsh-lane"):
        load_script(tmp_path / name if "\0" not in name else name)


@pytest.mark.parametrize("name", shipped_scripts())
def test_every_shipped_script_is_right(name: str):
    script = load_script(name)
    assert script.cues
    assert script.shots
    assert script.plays


WORDS = st.sampled_from(
    ["[[cue]]", "[[play]]", "[plan]", "[[player]]", "at = 1", "tap = 'Ear'", "seconds = 3", "push = true", "x", "= 2"]
)


@given(st.lists(WORDS, max_size=10).map("\n".join) | st.text(max_size=30))
@settings(max_examples=200, deadline=None)
def test_any_text_is_a_script_or_has_problems(text: str):
    try:
        script = parsed(text)
    except BadScriptError:
        assert problems(text)
    else:
        assert script.seconds > 0


def test_the_plan_of_a_script_is_english_and_a_plan_file_may_have_other_names(tmp_path: Path):
    with pytest.raises(BadScriptError, match=r"plan\.names 'german'"):
        parse_script('seconds = 2\n[plan]\nnames = "german"\n[[plan.step]]\ntonic = "B"\n', "x.toml", tmp_path)
    (tmp_path / "plan.toml").write_text('[[step]]\ntonic = "B"\n')
    text = 'seconds = 2\nplan_file = "plan.toml"\n[settings]\nnote_names = "german"\n'
    assert dict(parse_script(text, "x.toml", tmp_path).plan.steps[0].values)["tonic"] == "Bb"
