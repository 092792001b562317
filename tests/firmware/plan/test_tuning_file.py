"""Own tunings in TOML: exact, checked, used whole or not at all, moved by the cent."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.intervals import SEMITONE, Interval
from firmware.music.keys import key_of
from firmware.music.tunings import TUNINGS, tuning_named
from firmware.plan.tuning_file import DEGREES, OwnTuning, own_from, read_interval, read_tuning, write_tuning

TEXT = """title = "Pipes"
[intervals]
3 = "6/5"
4 = "5/4 - 2 cents"
7 = "701.955 cents"
"""
KEY = key_of("D", "major")


def test_a_tuning_keeps_its_exact_numbers() -> None:
    own, problems = read_tuning(TEXT, "tunings/pipes.toml", "pipes")
    assert problems == ()
    assert own is not None
    tuning = own.tuning
    assert (tuning.name, tuning.title, tuning.fixed) == ("pipes", "Pipes", False)
    assert tuning.interval(KEY, 3).fraction == Fraction(6, 5)
    assert tuning.interval(KEY, 4) == Interval.of("5/4") / Interval.of_cents(2)
    assert tuning.interval(KEY, 7) == Interval.of_cents("701.955")
    assert tuning.interval(KEY, 2) == SEMITONE**2
    # 386.3137 cents is the just major third of Helmholtz tr. Ellis, app. XX.
    assert tuning.interval(KEY, 4).cents == pytest.approx(386.3137 - 2, abs=1e-4)


@pytest.mark.parametrize(
    ("line", "key", "words"),
    [
        ('4 = "five"', "intervals.4", "a ratio such as"),
        ('4 = "5/0"', "intervals.4", "a ratio such as"),
        ('4 = "5/4 - 1/0 cents"', "intervals.4", "a ratio such as"),
        ("4 = 1.25", "intervals.4", "text in quotes"),
        ('12 = "2"', "intervals.12", "unknown key"),
        ('4 = "3/2"', "intervals", "less than the next"),
        ('11 = "3"', "intervals", "less than the next"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_of_it_is_used(line: str, key: str, words: str) -> None:
    own, (problem,) = read_tuning(f"title = 'x'\n[intervals]\n{line}\n5 = '4/3'\n", "tunings/x.toml", "x")
    assert own is None
    assert problem.key == key
    assert problem.line in (2, 3)
    assert words in problem.text


def test_a_degree_is_moved_by_the_cent_and_back_to_its_ratio() -> None:
    own, _ = read_tuning(TEXT, "a", "pipes")
    assert own is not None
    for semitones, cents, text in (
        (3, 1, "6/5 + 1 cents"),
        (4, 2, "5/4"),
        (4, Fraction(1, 2), "5/4 - 1.5 cents"),
        (7, -1, "700.955 cents"),
        (2, Fraction(1, 3), "601/3 cents"),
    ):
        assert own.moved(semitones, cents).intervals[semitones - 1] == text
    assert own.moved(3, 5).moved(3, -5) == own


def test_a_degree_never_passes_its_neighbour_and_the_tonic_stays() -> None:
    own = OwnTuning("equal")
    assert own.moved(4, 99).tuning.interval(KEY, 4).cents == pytest.approx(499)
    for semitones, cents in ((4, 100), (4, -100), (11, 100), (1, -100), (0, 1), (12, 1)):
        with pytest.raises(OutOfRangeError):
            own.moved(semitones, cents)


@pytest.mark.parametrize("name", [tuning.name for tuning in TUNINGS])
def test_a_tuning_of_ones_own_begins_as_any_other(name: str) -> None:
    tuning = tuning_named(name)
    own = own_from(tuning, KEY, "mine")
    for semitones in range(12):
        assert own.interval(semitones).cents == pytest.approx(tuning.interval(KEY, semitones).cents, abs=2e-6)
    assert read_tuning(write_tuning(own), "a", "mine")[0] == own_from(tuning, KEY, "mine", "mine")


RATIOS = st.sampled_from(["", "", "16/15", "9/8", "6/5", "5/4 + 3.5 cents", "4/3", "45/32 - 1/3 cents", "950.25 cents"])


@given(st.lists(RATIOS, min_size=11, max_size=11), st.text(min_size=1, max_size=40), st.booleans())
def test_what_is_written_is_read_again(texts: list[str], title: str, fixed: bool) -> None:  # noqa: FBT001 - it is drawn
    own = OwnTuning("mine", title, fixed, tuple(texts))
    found, problems = read_tuning(write_tuning(own), "a.toml", "mine")
    assert found == own or (found is None and "less than the next" in problems[0].text)


@given(
    st.text(max_size=60)
    | st.lists(st.sampled_from(["[intervals]", '4 = "5/4"', "4 = 5", "fixed = 1", "="])).map("\n".join)
)
def test_any_text_is_a_tuning_or_a_clear_error(text: str) -> None:
    own, problems = read_tuning(text, "a.toml", "mine")
    assert (own is None) == bool(problems)
    assert all(problem.text.startswith("a.toml, line ") for problem in problems)


@given(st.text(max_size=30))
def test_any_text_is_an_interval_or_refused(text: str) -> None:
    refused = False
    try:
        read_interval(text)
    except OutOfRangeError:
        refused = True
    assert refused or any(sign.isdigit() for sign in text)


def test_every_degree_may_be_written() -> None:
    lines = "\n".join(f'{semitones} = "{100 * semitones} cents"' for semitones in DEGREES)
    own, problems = read_tuning(f"[intervals]\n{lines}\n", "a", "mine")
    assert problems == ()
    assert own is not None
    assert own.tuning.interval(KEY, 6) == SEMITONE**6
