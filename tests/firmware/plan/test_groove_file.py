"""The user's own grooves: a broken one is named by its line and not used."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.plan.groove_file import read_groove

GOOD = """title = "Quay Street"
meter = "3/4"
steps = 2
swing = "eighths"

[[line]]
sound = "bass"
pattern = "X. .. .. | X. .. x."

[[line]]
sound = "wood"
pattern = ".. xo xo"
"""


def test_a_groove_is_read() -> None:
    groove, problems = read_groove(GOOD, "grooves/quay.toml", "quay")
    assert problems == ()
    assert groove is not None
    assert (groove.name, groove.title, groove.meter.text, len(groove.bars)) == ("quay", "Quay Street", "3/4", 2)
    assert groove.swung
    plain, _ = read_groove('[[line]]\nsound = "bass"\npattern = "x... .... .... ...."', "x.toml", "x")
    assert plain is not None
    assert (plain.title, plain.meter.text) == ("x", "4/4")


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ('meter = "3/4"', 'meter = "3/5"', 2, "note value"),
        ("steps = 2", "steps = 0", 3, "1 to 48"),
        ('sound = "bass"', 'sound = "gong"', 7, "choose from high"),
        ("X. .. .. |", "X. .q .. |", 6, "strokes"),
        (".. xo xo", ".. xo x", 10, "whole bars of 6 letters"),
        ("| X. .. x.", "| X. .. x. | ...... | ...... | ......", 6, "goes into"),
        ('swing = "eighths"', "swing = 2", 4, "choose from eighths"),
        ('title = "Quay Street"', "title = Quay", 1, "TOML"),
        ("steps = 2", "stepps = 2", 3, "steps"),
        ('sound = "wood"', "", 10, "left out"),
    ],
)
def test_what_is_wrong_is_named_by_its_line(old: str, new: str, line: int, words: str) -> None:
    other = GOOD.replace(".. xo xo", ".. xo xo | ...... ") if "goes into" in words else GOOD
    assert old in other
    groove, problems = read_groove(other.replace(old, new), "grooves/quay.toml", "quay")
    assert groove is None
    assert line in {problem.line for problem in problems}
    assert any(words in problem.text and "grooves/quay.toml, line" in problem.text for problem in problems)


def test_a_groove_without_lines_is_none() -> None:
    groove, (problem,) = read_groove("", "x.toml", "x")
    assert groove is None
    assert "[[line]]" in problem.text


@settings(max_examples=150, deadline=None)
@given(
    st.text(max_size=60)
    | st.lists(
        st.sampled_from(
            [
                "[[line]]", 'sound = "bass"', "sound = 3", 'pattern = "x..."', 'pattern = "X.x. " ', "steps = 1",
                "steps = 4", 'meter = "2/4"', 'meter = ""', "title = ''", "[line]", "= 2", 'swing = "eighths"',
            ]
        ),
        max_size=9,
    ).map("\n".join)
)  # fmt: skip
def test_any_text_is_a_groove_or_a_list_of_problems(text: str) -> None:
    groove, problems = read_groove(text, "x.toml", "x")
    assert (groove is None) == bool(problems)
    if groove is not None:
        assert any(groove.bars) or "x" not in text.lower()
