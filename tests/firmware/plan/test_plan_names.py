"""The language of a plan: it says it, or it is found out and said; every entry means the same note in each."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.music.keys import ALL_TONICS
from firmware.music.languages import LANGUAGES
from firmware.music.languages.english import ENGLISH
from firmware.music.languages.german import GERMAN
from firmware.music.note_names import NoteNames
from firmware.music.notes import PitchName
from firmware.music.words import Words
from firmware.plan.plan import Plan, PlanStep, read_plan
from firmware.plan.plan_names import language_of
from firmware.plan.plan_text import example_plan, plan_table, write_plan

CHORDS = st.sampled_from(["I", "ii6", "V7", "Bb", "B", "F#m7:2", "Ebsus4", "Asus4", "Ab/C", "|", "Eo7"])


def _plan(names: str, **values: str) -> str:
    entries = "\n".join(f'{key} = "{value}"' for key, value in values.items())
    return (f'names = "{names}"\n' if names else "") + f"[[step]]\n{entries}\n"


def _tonic(plan: Plan) -> object:
    return dict(plan.steps[0].values).get("tonic")


@pytest.mark.parametrize(("names", "tonic"), [("german", "Bb"), ("english", "B"), ("fixed-do", None), ("", "Bb")])
def test_b_is_what_the_plan_says_it_is(names: str, tonic: str | None) -> None:
    plan, problems = read_plan(_plan(names, tonic="B"), names="german")
    assert _tonic(plan) == tonic
    assert plan.names == (names or "german")
    assert bool(problems) == (tonic is None)


def test_a_b_of_which_nobody_said_what_it_is_is_remarked_on_in_a_german_room() -> None:
    plan, problems = read_plan(_plan("", tonic="B"), names="german")
    assert problems == ()
    (remark,) = plan.remarks
    assert remark.startswith("B is read in German, as the room speaks: B♭ in English.")
    assert remark.endswith('write names = "german" or write names = "english" at the top')
    assert read_plan(_plan("", tonic="Es"), names="german")[0].remarks == ()
    assert read_plan(_plan("", tonic="B"))[0].remarks == ()


def test_a_plan_of_another_language_is_found_out() -> None:
    english, problems = read_plan('[[step]]\ntonic = "Bb"\n[[step]]\ntonic = "B"\n', names="german")
    assert (english.names, problems) == ("english", ())
    assert [dict(step.values)["tonic"] for step in english.steps] == ["Bb", "B"]
    assert "seem to be English" in english.remarks[0]
    german, problems = read_plan(_plan("", tonic="H", progression="Es B7 H7:2 I"))
    assert (german.names, problems) == ("german", ())
    assert dict(german.steps[0].values)["progression"] == "Eb Bb7 B7:2 I"
    assert 'write names = "german"' in german.remarks[0]


def test_an_error_lists_the_names_of_the_language_and_says_whose_a_name_is() -> None:
    _, (problem,) = read_plan(_plan("german", tonic="Bb"), "dienstag.toml", "german")
    assert (problem.line, problem.key) == (3, "step.tonic")
    assert "Es, B, F, C, G, D, A, E, H, Fis" in problem.allowed
    assert problem.remedy == 'It is English; for a plan in English write names = "english" at the top.'
    _, (problem,) = read_plan(_plan("fixed-do", tonics="Sib Q"))
    assert "Sib, Fa, Do" in problem.allowed
    _, (problem,) = read_plan(_plan("german", progression="I Q7"))
    assert "B7, Fism" in problem.allowed
    _, (problem,) = read_plan(_plan("klingon", tonic="C"))
    assert "english, german, fixed-do" in problem.allowed


@given(
    st.sampled_from(LANGUAGES),
    st.lists(st.sampled_from(ALL_TONICS), min_size=1, max_size=5),
    st.lists(CHORDS, min_size=1, max_size=6).map(" ".join),
    st.sampled_from(["none", "fifths", "scale", "Bb F C"]),
)
def test_a_plan_comes_back_from_every_language(
    language: NoteNames, tonics: list[PitchName], chords: str, way: str
) -> None:
    rest = (("progression", chords), ("tonics", way), ("reading", "horn"))
    plan = Plan("", tuple(PlanStep("x", (("tonic", tonic.plain), *rest)) for tonic in tonics), names=language.name)
    for room in LANGUAGES:
        assert read_plan(write_plan(plan), names=room.name) == (plan, ())


@pytest.mark.parametrize("language", LANGUAGES, ids=lambda one: one.name)
def test_the_example_can_be_had_in_every_language(language: NoteNames) -> None:
    plan, problems = read_plan(example_plan(language.name))
    assert (problems, plan.names, plan.remarks) == ((), language.name, ())
    assert plan.steps == read_plan(example_plan())[0].steps


def test_the_table_names_notes_as_the_room_does() -> None:
    plan, _ = read_plan(_plan("english", tonic="B", progression="B Bb7 I", tonics="Eb F#"))
    row = plan_table(plan, Words(GERMAN))[1]
    assert row[3] == "H"
    assert row[6] == "progression H B7 I, tonics Es Fis"


KEYS = st.sampled_from(["step", "names", "tonic", "progression", "tonics"])
ANYTHING = st.recursive(
    st.none() | st.text(max_size=6) | st.integers(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner),
)


@given(ANYTHING)
def test_any_data_has_some_language(data: object) -> None:
    found, _ = language_of(data if isinstance(data, dict) else {}, ENGLISH)
    assert found in LANGUAGES
