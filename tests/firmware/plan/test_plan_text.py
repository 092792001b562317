"""A plan as text reads as the same plan; the example explains every key."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from firmware.plan.plan import LONGEST_MINUTES, READING_AT_REST, STEP_SETTINGS, STEP_TEXTS, Plan, PlanStep, read_plan
from firmware.plan.plan_text import example_plan, plan_table, write_plan
from firmware.settings import Setting, Value, setting_named


def value_of(setting: Setting) -> st.SearchStrategy[Value]:
    """Any value of a setting."""
    if setting.choices:
        return st.sampled_from(setting.choices)
    if isinstance(setting.default, int):
        return st.integers(int(setting.low), int(setting.high))
    return st.floats(setting.low, setting.high)


@st.composite
def steps(draw: st.DrawFn) -> PlanStep:
    names = draw(st.sets(st.sampled_from(STEP_SETTINGS), max_size=6)) | {"reading"}
    values = tuple((name, draw(value_of(setting_named(name)))) for name in STEP_SETTINGS if name in names)
    return PlanStep(
        draw(TEXT.filter(bool)), values, draw(TEXT), draw(TEXT), draw(st.floats(0, LONGEST_MINUTES)), draw(TAKE)
    )


TEXT = st.text(st.characters(codec="utf-8"), max_size=40)
TAKE = st.sampled_from([None, True, False])
PLANS = st.builds(Plan, TEXT, st.lists(steps(), max_size=4).map(tuple), st.just(()) | st.just((("a4", 442.5),)))


@given(PLANS)
def test_what_is_written_is_read_again(plan: Plan) -> None:
    assert read_plan(write_plan(plan)) == (plan, ())


@given(PLANS, st.data())
def test_a_plan_that_is_edited_badly_still_runs_its_good_steps(plan: Plan, data: st.DataObject) -> None:
    text = write_plan(plan)
    at = data.draw(st.integers(0, len(text)))
    edited = text[:at] + data.draw(st.text(max_size=6)) + text[at + data.draw(st.integers(0, 6)) :]
    found, problems = read_plan(edited, "tuesday.toml")
    assert all(problem.text.startswith("tuesday.toml, line ") for problem in problems)
    for step in found.steps:
        assert all(setting_named(name).accepts(value) for name, value in step.values)


def test_one_bad_line_costs_one_entry() -> None:
    text = example_plan().replace('tonic = "Eb"', 'tonic = "H"').replace("ramp_over = 8", "ramp_over = 8 beats")
    good, _ = read_plan(example_plan())
    plan, problems = read_plan(text, "thursday.toml")
    lines = text.split("\n")
    assert (problems[0].line, problems[0].key) == (lines.index('tonic = "H"') + 1, "step.tonic")
    assert "choose from Cb, Gb" in problems[0].text
    assert problems[1].line == lines.index("ramp_over = 8 beats") + 1
    assert len(plan.steps) == len(good.steps)
    kept = tuple((name, value) for name, value in good.steps[2].values if name != "tonic")
    assert plan.steps[2].values == kept
    assert plan.steps[4] == good.steps[4]


def test_the_example_uses_every_key_and_is_read_without_a_problem() -> None:
    text = example_plan()
    plan, problems = read_plan(text)
    assert problems == ()
    used = {name for step in plan.steps for name, _ in step.values}
    assert used == set(STEP_SETTINGS)
    for entry in STEP_TEXTS:
        assert any(getattr(step, entry.key) != entry.default for step in plan.steps), entry.key
    assert plan.values == (("a4", 442.0),)
    assert read_plan(write_plan(plan)) == (plan, ())


def test_the_example_explains_each_key_once() -> None:
    lines = example_plan().split("\n")
    for name in ("tonic", "tempo", "minutes", "take", "section", "names", "moves"):
        before = [lines[number - 1] for number, line in enumerate(lines) if line.startswith(f"{name} = ")]
        assert before[0].startswith("# "), name
        assert not any(line.startswith("# ") for line in before[1:]), name
    assert (
        lines[lines.index('title = "Thursday, wind band"') - 1]
        == "# title of the rehearsal: text in quotes, length from 0 to 80"
    )
    assert max(map(len, lines)) <= 160


def test_a_table_for_people() -> None:
    values = (("tonic", "Eb"), ("mode", "major"), ("reading", "clarinet"), ("tempo", 92.0), ("meter", "3/4"))
    full = PlanStep("Chorale", (*values, ("pickup", 1.0), ("slope", -3.0)), "A", "", 7.5, take=True)
    rest = PlanStep("Tutti", (("reading", READING_AT_REST), ("pickup", 0.0)), take=False)
    assert plan_table(Plan("", (full, rest)))[1:] == (
        ("1", "Chorale", "7.5", "Eb major", "92", "3/4", "reads clarinet, slope −3, pickup 1, take on, marker 'A'"),
        ("2", "Tutti", "", "", "", "", "take off"),
    )
