"""Plans from files of every kind, told apart by the ending of the name."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import BadFileError, KeelnoteError
from hardware.plan_files import KINDS, LONGEST_PLAN, plan_of_file

SCORE = b"<score-partwise><part id='P1'><measure number='1'/></part></score-partwise>"
MIDI = b"MThd\0\0\0\6\0\0\0\1\0\x60MTrk\0\0\0\4\0\xff\x2f\0"


@pytest.mark.parametrize(
    ("name", "data", "steps"),
    [
        ("plans/a.toml", b"[[step]]\n[[step]]\n", 2),
        ("a.TOML", "title = 'Übung'".encode("utf-16"), 0),
        ("a.musicxml", SCORE, 1),
        ("a.XML", SCORE, 1),
        ("a.mid", MIDI, 1),
        ("a.midi", MIDI, 1),
    ],
)
def test_each_kind(name: str, data: bytes, steps: int) -> None:
    plan, problems, remarks = plan_of_file(data, name)
    assert (len(plan.steps), problems, remarks) == (steps, (), ())


def test_a_score_without_a_title_is_called_after_its_file() -> None:
    assert plan_of_file(SCORE, "plans/ferry hymn.xml")[0].title == "ferry hymn"


def test_what_is_wrong_with_a_plan_comes_back_and_the_rest_counts() -> None:
    plan, problems, _ = plan_of_file(b"[[step]]\ntempo = 9\n\xff", "a.toml")
    assert len(plan.steps) == 1
    assert len(problems) == 3


@pytest.mark.parametrize(("name", "data"), [("a.pdf", b""), ("toml", b""), ("a.toml", bytes(LONGEST_PLAN + 1))])
def test_other_files_are_refused(name: str, data: bytes) -> None:
    with pytest.raises(BadFileError):
        plan_of_file(data, name)


@given(st.sampled_from(KINDS), st.binary(max_size=100), st.booleans())
def test_any_bytes_give_a_plan_or_a_clear_error(kind: str, data: bytes, once: bool) -> None:  # noqa: FBT001 - Hypothesis hands them on by place
    problems: tuple[KeelnoteError, ...] = ()
    try:
        _, problems, _ = plan_of_file(data, f"a{kind}", once=once)
    except BadFileError as error:
        problems = (error,)
    assert all(problem.text.startswith(f"a{kind}") for problem in problems)
