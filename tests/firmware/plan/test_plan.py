"""Plans are read from TOML; a bad entry is left out of its step alone."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.music.keys import TONICS
from firmware.music.modes import MODES
from firmware.plan.plan import MOST_STEPS, STEP_SETTINGS, Plan, PlanStep, read_plan
from firmware.settings import SETTINGS, setting_named

TEXT = """
title = "Tuesday"

[[step]]
title = "Warm-up"
tonic = "B♭"
mode = "ionian"
shape = "triad"
octave = 3
tempo = 72

[[step]]
tonic = "F#"
section = "clarinet"
marker = "Clarinets"
notes = "Only the last eight bars."
"""


def test_a_plan():
    plan, problems = read_plan(TEXT)
    assert problems == ()
    warm_up = (
        ("tonic", "Bb"),
        ("mode", "major"),
        ("shape", "triad"),
        ("octave", 3),
        ("reading", "concert"),
        ("tempo", 72.0),
    )
    assert plan == Plan(
        "Tuesday",
        (
            PlanStep("Warm-up", warm_up),
            PlanStep("Step 2", (("tonic", "F#"), ("reading", "clarinet")), "Clarinets", "Only the last eight bars."),
        ),
    )


def test_reference_minutes_and_takes():
    plan, problems = read_plan(
        "a4 = 442\n[[step]]\nminutes = 10\ntake = true\nthird_level = -5\nslope = -2\na4 = 443\n"
    )
    assert problems == ()
    values = (("a4", 443.0), ("third_level", -5.0), ("slope", -2.0), ("reading", "concert"))
    assert plan == Plan("", (PlanStep("Step 1", values, minutes=10.0, take=True),), (("a4", 442.0),))


def test_what_stands_after_some_steps():
    plan, _ = read_plan("a4 = 442\n[[step]]\ntempo = 60\nsection = 'clarinet'\n[[step]]\ntempo = 70\nminutes = 4\n")
    assert dict(plan.up_to(0)) == {"a4": 442.0}
    assert dict(plan.up_to(1)) == {"a4": 442.0, "tempo": 60.0, "reading": "clarinet"}
    assert dict(plan.up_to(2)) == {"a4": 442.0, "tempo": 70.0, "reading": "concert"}
    assert (plan.minutes_after(0), plan.minutes_after(2)) == (4.0, 0.0)


def test_too_many_steps_are_named_and_left_out():
    plan, (problem,) = read_plan("[[step]]\n" * (MOST_STEPS + 3))
    assert len(plan.steps) == MOST_STEPS
    assert (problem.line, problem.key) == (MOST_STEPS + 1, "step")


def test_a_reading_ends_with_its_step():
    plan, _ = read_plan('[[step]]\nsection = "clarinet"\n[[step]]\ntitle = "All"\n')
    assert [dict(step.values)["reading"] for step in plan.steps] == ["clarinet", "concert"]


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ('tonic = "Q"', "'Q'"),
        ('reading = "clarinet"', "unknown key"),
        ('tonic = "Gbb"', "'Gbb'"),
        ('tonic = "B"\ntonic = "C"', "overwrite"),
        ('mode = "maior"', "major"),
        ("octave = 9", "from 1 to 5"),
        ('octave = "2"', "a whole number"),
        ("tempo = 10", "from 20 to 300"),
        ('section = "kazoo"', "concert"),
        ('timbre = "loud"', "reed"),
        ("title = 4", "text in quotes"),
        ("minutes = -1", "from 0 to 600"),
        ("take = 'yes'", "true or false"),
        ("third_level = -99", "from -24 to 6"),
        ('tuneing = "just"', "tuning"),
    ],
)
def test_a_bad_entry_is_named_and_its_step_still_serves(entry: str, words: str):
    plan, (problem,) = read_plan(f"[[step]]\nmeter = '3/4'\n{entry}\n[[step]]\ntonic = 'G'\n", "tuesday.toml")
    assert problem.text.startswith("tuesday.toml, line ")
    assert words in problem.text
    assert len(plan.steps) == 2
    assert dict(plan.steps[0].values)["meter"] == "3/4"
    assert dict(plan.steps[1].values)["tonic"] == "G"


def test_every_tonic_and_mode_can_be_planned():
    for tonic in TONICS:
        for name in (tonic.plain, tonic.text):
            plan, problems = read_plan(f"[[step]]\ntonic = '{name}'\n")
            assert problems == ()
            assert dict(plan.steps[0].values)["tonic"] == tonic.plain
    for mode in MODES:
        plan, problems = read_plan(f"[[step]]\nmode = '{mode.name}'\n")
        assert dict(plan.steps[0].values)["mode"] == mode.name
        assert problems == ()


def test_a_step_changes_settings_that_there_are():
    assert set(STEP_SETTINGS) <= {setting.name for setting in SETTINGS}


@given(
    st.lists(
        st.sampled_from(
            [
                "[[step]]",
                "[step]",
                "tonic = 'C'",
                "tonic = 3",
                "octave = 2",
                "title = 'x'",
                "mode = 'x'",
                "= 1",
                "step = 1",
            ]
        ),
        max_size=8,
    ).map("\n".join)
    | st.text(max_size=40)
)
@settings(max_examples=150, deadline=None)
def test_any_text_gives_a_plan_that_the_settings_accept(text: str):
    plan, _ = read_plan(text)
    for step in plan.steps:
        assert step.title
        for name, value in step.values:
            assert setting_named(name).accepts(value)


def test_a_tuning_is_the_boxs_or_one_of_ones_own():
    text = "[[step]]\ntuning = 'hall'\n"
    assert dict(read_plan(text)[0].steps[0].values)["tuning"] == "hall"
    assert read_plan(text, tunings=("hall",))[1] == ()
    plan, (problem,) = read_plan(text, "a.toml", tunings=("hill",))
    assert "tuning" not in dict(plan.steps[0].values)
    assert (problem.line, problem.key) == (2, "step.tuning")
    assert "just, equal" in problem.allowed
    assert "hill" in problem.allowed
