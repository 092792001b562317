"""Own tunings on the stick: what is good is used, what is not is said, and the one before takes its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hardware.drivers.stick import FolderStick
from hardware.own_tunings import MOST_FILES, tunings_on

GOOD = '[intervals]\n4 = "5/4"\n'


@pytest.fixture
def stick(tmp_path: Path) -> FolderStick:
    return FolderStick(tmp_path / "KEELNOTE")


def test_tunings_are_called_as_their_files(stick: FolderStick) -> None:
    assert tunings_on(stick) == ((), ())
    for name in ("hall.toml", "own 1.toml", ".hall.toml", "notes.txt"):
        stick.write_text(f"tunings/{name}", GOOD)
    found, problems = tunings_on(stick)
    assert ([own.name for own in found], problems) == (["hall", "own 1"], ())
    assert found[0].interval(4).text == "5/4"


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("x", "[intervals]\n4 = 'loud'\n", "line 2: intervals.4"),
        ("x", "[intervals]\n4 = '5/4'\ncolour = 1\n", "unknown key"),
        ("x", "[intervals]\n4 = '3/2'\n", "intervals"),
        ("just", GOOD, "no tuning of the box"),
        ("x" * 41, GOOD, "at most 40 letters"),
        ("x", "#" * 100_001, "at most 100000 bytes"),
    ],
)
def test_a_bad_one_is_said_and_the_good_ones_remain(stick: FolderStick, name: str, text: str, words: str) -> None:
    stick.write_text("tunings/hall.toml", GOOD)
    stick.write_text(f"tunings/{name}.toml", text)
    found, problems = tunings_on(stick)
    assert [own.name for own in found] == ["hall"]
    assert words in problems[0].text
    assert name in problems[0].text


def test_the_one_before_is_used_when_the_newest_is_lost_or_damaged(stick: FolderStick) -> None:
    stick.write_text("tunings/own 1.toml.old", GOOD)
    found, problems = tunings_on(stick)
    assert ([own.name for own in found], len(problems)) == (["own 1"], 1)
    assert "own 1.toml.old, is used" in problems[-1].text
    stick.write_text("tunings/own 1.toml", "\0\0\0")
    found, problems = tunings_on(stick)
    assert [own.name for own in found] == ["own 1"]
    assert "own 1.toml.old, is used" in problems[-1].text


def test_there_is_an_end_to_them(stick: FolderStick) -> None:
    for number in range(MOST_FILES + 2):
        stick.write_text(f"tunings/{number:03d}.toml", GOOD)
    found, (problem,) = tunings_on(stick)
    assert len(found) == MOST_FILES
    assert "064" in problem.text


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None)
@given(st.binary(max_size=80))
def test_any_bytes_are_read_or_refused(stick: FolderStick, data: bytes) -> None:
    path = stick.root / "tunings" / "x.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    found, problems = tunings_on(stick)
    assert bool(found) != bool(problems)
