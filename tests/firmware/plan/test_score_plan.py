"""From a score to a plan: sections, the order of playing, meters, pickups, titles and notes."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.music.meter import parse_bars
from firmware.music.notes import parse_pitch_name
from firmware.plan.plan import MOST_STEPS, Plan, read_plan
from firmware.plan.plan_text import write_plan
from firmware.plan.score import Place, Score, ScoreBar, ScoreKey, ScoreMark, ScoreMeter, ScoreTempo, Turn
from firmware.plan.score_bars import meter_at, meter_list, pickup_at
from firmware.plan.score_plan import plan_of_score, tonic_of
from firmware.plan.score_sections import LONGEST_LIST, Passage, Section, passages_of, sections_of
from firmware.settings import setting_named


def score(*lengths: int | Fraction, meters: dict[int, str] | None = None, **more: Any) -> Score:  # noqa: ANN401 - its fields
    bars = tuple(ScoreBar(str(number), Fraction(length)) for number, length in enumerate(lengths, start=1))
    changes = {0: "4/4"} if meters is None else meters
    signatures = tuple(ScoreMeter(Place(bar), text) for bar, text in changes.items())
    return Score("", bars, meters=signatures, **{"turns": (Turn(),) * len(bars), **more})


def values_of(plan: Plan, number: int) -> dict[str, object]:
    return dict(plan.steps[number - 1].values)


def test_a_plain_score_is_one_step() -> None:
    plan, remarks = plan_of_score(score(4, 4, keys=(ScoreKey(Place(0), -3, "major"),)), "hymn")
    assert (plan.title, len(plan.steps), remarks) == ("hymn", 1, ())
    assert values_of(plan, 1) == {"tonic": "Eb", "mode": "major", "reading": "concert", "meter": "4/4", "pickup": 0.0}
    assert (plan.steps[0].title, plan.steps[0].notes) == ("Bar 1: E♭ major", "Bars 1–2.")


def test_a_step_begins_with_a_key_a_tempo_or_a_mark_that_is_new() -> None:
    keys = (ScoreKey(Place(0), 0, "major"), ScoreKey(Place(1), 0, "major"), ScoreKey(Place(2), 0, "minor"))
    tempos = (
        ScoreTempo(Place(0), 90.0),
        ScoreTempo(Place(3), 90.0),
        ScoreTempo(Place(4), 60.0, "Adagio", by_words=True),
    )
    marks = (ScoreMark(Place(5), "B"),)
    plan, _ = plan_of_score(score(*[4] * 6, keys=keys, tempos=tempos, marks=marks))
    assert [step.title for step in plan.steps] == ["Bar 1: C major", "Bar 3: A minor", "Bar 5: Adagio", "B"]
    assert [values_of(plan, number)["tempo"] for number in (1, 2, 3, 4)] == [90.0, 90.0, 60.0, 60.0]
    assert plan.steps[2].notes == "Bars 5. Tempo from the word Adagio."


def test_a_mode_that_nobody_gave_is_taken_as_major_and_said() -> None:
    plan, _ = plan_of_score(score(4, keys=(ScoreKey(Place(0), 2),)))
    assert (values_of(plan, 1)["tonic"], values_of(plan, 1)["mode"]) == ("D", "major")
    assert plan.steps[0].notes.endswith("Mode not given.")


@pytest.mark.parametrize(("name", "tonic"), [("G#", "G#"), ("E#", "F"), ("C#", "C#"), ("B#", "C"), ("Fb", "E")])
def test_tonics_are_named_as_the_box_does(name: str, tonic: str) -> None:
    assert tonic_of(parse_pitch_name(name)).plain == tonic


@pytest.mark.parametrize(
    ("meter", "quarters", "beats"),
    [("4/4", 92.0, 92.0), ("2/2", 120.0, 60.0), ("6/8", 90.0, 60.0), ("3/8", 60.0, 120.0)],
)
def test_tempos_count_beats(meter: str, quarters: float, beats: float) -> None:
    length = 4 * meter_at(score(4, meters={0: meter}), 0).length
    plan, _ = plan_of_score(score(length, meters={0: meter}, tempos=(ScoreTempo(Place(0), quarters),)))
    assert values_of(plan, 1)["tempo"] == beats


def test_a_tempo_that_the_pulse_does_not_reach_is_left_out_with_a_remark() -> None:
    plan, (remark,) = plan_of_score(score(4, tempos=(ScoreTempo(Place(0), 900.0),)))
    assert "tempo" not in values_of(plan, 1)
    assert remark == "bar 1: 900 beats a minute are left out"


@pytest.mark.parametrize(
    ("lengths", "meters", "pickup", "text"),
    [
        ((4, 4, 4), {0: "4/4"}, 0, "4/4"),
        ((1, 4, 4, 3), {0: "4/4"}, 1, "4/4"),
        ((4, 4, 3, 4), {0: "4/4", 2: "3/4", 3: "4/4"}, 0, "4/4x2 3/4 4/4"),
        ((4, 3, 1, 4), {0: "4/4"}, 0, "4/4"),
        ((4, 2, 4), {0: "4/4"}, 0, "4/4 2/4 4/4"),
        ((3, 3, Fraction(3, 2), 3), {0: "6/8"}, 0, "6/8x2 3/8 6/8"),
        ((4, Fraction(7, 3), 4), {0: "4/4"}, 0, "4/4"),
        ((1, 4), {}, 1, "4/4"),
        ((Fraction(1, 2), 3), {0: "6/8"}, Fraction(1, 2), "6/8"),
        ((4, 8), {0: "4/4"}, 0, "4/4 8/4"),
        ((1,), {0: "3/4"}, 1, "3/4"),
    ],
)
def test_pickups_and_lists_of_meters(
    lengths: tuple[Fraction, ...], meters: dict[int, str], pickup: Fraction, text: str
) -> None:
    printed = score(*lengths, meters=meters)
    assert pickup_at(printed, Place(0)) == pickup
    assert meter_list(printed, Place(0), Place(len(lengths))) == text


def test_a_section_that_begins_within_a_bar_has_the_rest_of_it_as_its_pickup() -> None:
    printed = score(4, 4, 4, tempos=(ScoreTempo(Place(0), 90.0), ScoreTempo(Place(1, Fraction(3)), 60.0)))
    plan, _ = plan_of_score(printed)
    assert values_of(plan, 2)["pickup"] == 1.0
    assert plan.steps[1].title == "Bar 2"
    assert plan.steps[1].notes == "Bars 2–3. Begins on beat 4."
    near = score(4, 4, tempos=(ScoreTempo(Place(0), 90.0), ScoreTempo(Place(0, Fraction(1023, 256)), 60.0)))
    assert [section.start for section in sections_of(near)] == [Place(0), Place(1)]


def test_repeats_come_in_the_order_of_playing_or_once() -> None:
    turns = (Turn(forward=True), Turn(), Turn(), Turn(backward=2))
    printed = score(*[4] * 4, turns=turns, marks=(ScoreMark(Place(0), "A"), ScoreMark(Place(2), "B")))
    assert [step.title for step in plan_of_score(printed)[0].steps] == ["A", "B", "A, 2nd time", "B, 2nd time"]
    assert [step.title for step in plan_of_score(printed, once=True)[0].steps] == ["A", "B"]


def test_a_repeat_of_one_section_is_one_step() -> None:
    turns = (Turn(), Turn(backward=2, endings=(1,), ending_begins=True), Turn(endings=(2,), ending_begins=True))
    plan, _ = plan_of_score(score(4, 4, 4, turns=turns))
    assert [step.notes for step in plan.steps] == ["Bars 1–2, 1, 3."]


def test_many_visits_are_counted_and_long_titles_cut() -> None:
    turns = (Turn(forward=True), Turn(backward=5))
    marks = (ScoreMark(Place(0), "The third entry of the second horn again"), ScoreMark(Place(1), "B"))
    steps = plan_of_score(score(4, 4, turns=turns, marks=marks))[0].steps
    assert [step.title.rpartition(", ")[2] for step in steps[2::2]] == ["2nd time", "3rd time", "4th time", "5th time"]
    assert max(len(step.title) for step in steps) <= 40
    again = score(4, turns=(Turn(backward=8),))
    assert plan_of_score(again)[0].steps[0].notes == "Bars 1, 1, 1, 1, 1, 1 and on."


def test_a_list_of_meters_that_gets_too_long_begins_a_new_step() -> None:
    lengths = [4 if bar % 3 else 3 for bar in range(120)]
    meters = {bar: f"{length}/4" for bar, length in enumerate(lengths)}
    printed = score(*lengths, meters=meters)
    sections = sections_of(printed)
    assert len(sections) > 1
    assert [section.end for section in sections[:-1]] == [section.start for section in sections[1:]]
    lists = [meter_list(printed, section.start, section.end) for section in sections]
    assert max(map(len, lists)) <= LONGEST_LIST
    assert sum(count for text in lists for count, _ in parse_bars(text).runs) == 120


def test_more_steps_than_a_plan_may_have_are_left_out() -> None:
    count = MOST_STEPS + 5
    marks = tuple(ScoreMark(Place(bar), str(bar)) for bar in range(count))
    plan, (remark,) = plan_of_score(score(*[4] * count, marks=marks))
    assert len(plan.steps) == MOST_STEPS
    assert str(count) in remark


def test_passages_follow_the_bars() -> None:
    sections = (
        Section(Place(0), Place(2)),
        Section(Place(2), Place(3, Fraction(2))),
        Section(Place(3, Fraction(2)), Place(5)),
    )
    printed = score(*[4] * 5, turns=(Turn(),) * 4 + (Turn(da_capo=True),))
    expected = [(0, ((0, 1),), 1), (1, ((2, 3),), 1), (2, ((3, 4),), 1), (0, ((0, 1),), 2)]
    assert passages_of(printed, sections, once=False)[:4] == tuple(Passage(*row) for row in expected)


BARS = st.lists(
    st.sampled_from([Fraction(4), Fraction(4), Fraction(3), Fraction(1), Fraction(1, 2), Fraction(7, 3), Fraction(8)]),
    min_size=1,
    max_size=9,
)
METERS = st.sampled_from(["4/4", "3/4", "6/8", "2/2", "2+3/8", "5/8", ""])


@given(BARS, st.data())
def test_any_score_makes_a_plan_that_the_checker_takes(lengths: list[Fraction], data: st.DataObject) -> None:
    places = st.builds(
        Place,
        st.integers(0, len(lengths) - 1),
        st.sampled_from([Fraction(0), Fraction(1), Fraction(7, 2), Fraction(30)]),
    )
    keys = st.builds(ScoreKey, places, st.integers(-14, 14), st.sampled_from(["", "major", "minor", "locrian"]))
    tempos = st.builds(ScoreTempo, places, st.floats(5, 1000), st.text(max_size=60), st.booleans())
    marks = st.builds(ScoreMark, places, st.text(max_size=40))
    turns = st.builds(Turn, forward=st.booleans(), backward=st.sampled_from([0, 2]), da_capo=st.booleans())
    count = len(lengths)
    bars = data.draw(st.lists(METERS, min_size=1, max_size=count))
    printed = score(
        *lengths,
        meters=dict(enumerate(bars)),
        keys=tuple(sorted(data.draw(st.lists(keys, max_size=4)), key=lambda one: one.place)),
        tempos=tuple(sorted(data.draw(st.lists(tempos, max_size=4)), key=lambda one: one.place)),
        marks=tuple(sorted(data.draw(st.lists(marks, max_size=4)), key=lambda one: one.place)),
        turns=tuple(data.draw(st.lists(turns, min_size=count, max_size=count))),
    )
    plan, _ = plan_of_score(printed, data.draw(st.text(max_size=90)))
    assert plan.steps
    assert read_plan(write_plan(plan)) == (plan, ())
    for step in plan.steps:
        assert all(setting_named(name).accepts(value) for name, value in step.values)
