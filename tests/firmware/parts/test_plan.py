"""The plan part: one pedal press, one step; the knob goes to any of them."""

from __future__ import annotations

from typing import Any

from firmware.commands import AppendLine, ReadPlan
from firmware.events import (
    Adjusted,
    Event,
    Noticed,
    PlanOpened,
    PlanRead,
    PlanStepped,
    SettingChanged,
    SwitchedOn,
    Wish,
    Wished,
)
from firmware.parts.part import Start, address_of
from firmware.parts.plan import CHOSEN, PLAN, STEP, PlanState
from firmware.plan.plan import Plan, PlanStep
from firmware.units import RATE

WARM_UP = PlanStep("Warm-up", (("tonic", "F"), ("reading", "concert"), ("tempo", 60.0)), minutes=5.0)
CHORALE = PlanStep("Chorale", (("tonic", "Eb"), ("reading", "clarinet")), marker="A", notes="Horns low.", take=True)
TUTTI = PlanStep("Tutti", (("reading", "concert"),), minutes=12.5)
TUESDAY = Plan("Tuesday", (WARM_UP, CHORALE, TUTTI), (("a4", 442.0),))


def run(*events: Event, plan: Plan = TUESDAY) -> tuple[PlanState, tuple[Any, ...]]:
    """The state after some events, and what followed from the last."""
    state, follow = PLAN.start(Start(plan=plan)), ()
    for event in events:
        state, follow = PLAN.handlers[address_of(event)](state, event)
    return state, follow


def pedal(at: int) -> Wished:
    return Wished(at, Wish.PLAN_NEXT)


def test_a_plan_is_opened_when_the_box_is_switched_on() -> None:
    assert run(SwitchedOn(0))[1] == (PlanOpened(0, "Tuesday", (("a4", 442.0),)),)
    assert run(SwitchedOn(0), plan=Plan())[1] == ()


def test_steps_come_in_order_and_end() -> None:
    assert PLAN.show(run()[0], 0)["plan_title"] == ""
    state, follow = run(pedal(1))
    assert follow == (
        PlanStepped(1, 1, "Warm-up", WARM_UP.values),
        Noticed(1, "plan-step", (("title", "Warm-up"),)),
    )
    assert PLAN.show(state, 1)["plan_title"] == "Warm-up"
    assert run(pedal(1), pedal(2))[1][0] == PlanStepped(2, 2, "Chorale", CHORALE.values, "A", "Horns low.", take=True)
    state, _ = run(pedal(1), pedal(2), pedal(3))
    assert run(pedal(1), pedal(2), pedal(3), pedal(4)) == (state, (Noticed(4, "plan-end"),))


def test_the_knob_goes_to_a_step_as_the_steps_before_would_have_left_it() -> None:
    _, follow = run(Adjusted(7, STEP, 3))
    assert dict(follow[0].values) == {"a4": 442.0, "tonic": "Eb", "reading": "concert", "tempo": 60.0}
    assert follow[0].index == 3
    state, follow = run(pedal(1), pedal(2), Adjusted(9, STEP, -1))
    assert dict(follow[0].values) == {"a4": 442.0, "tonic": "F", "reading": "concert", "tempo": 60.0}
    assert (state.begun, state.since) == (1, 9)


def test_the_knob_stops_at_both_ends() -> None:
    state, follow = run(pedal(1), Adjusted(2, STEP, -1))
    assert (state.begun, state.since, follow) == (1, 1, ())
    state, follow = run(Adjusted(1, STEP, 9), Adjusted(2, STEP, 1))
    assert (state.begun, follow) == (3, (Noticed(2, "plan-end"),))


def test_no_plan_says_so() -> None:
    for event in (pedal(1), Adjusted(1, STEP, 1)):
        assert run(event, plan=Plan())[1] == (Noticed(1, "plan-none"),)


MANY = ("plans/a.toml", "plans/b.mxl", "plans/c.mid")


def choose(*events: Event, plans: tuple[str, ...] = MANY) -> tuple[PlanState, tuple[Any, ...]]:
    """The state after some events with several plans on the stick, and what followed from the last."""
    state, follow = PLAN.start(Start(plan=TUESDAY, plans=plans, plan_path=plans[0] if plans else "")), ()
    for event in events:
        state, follow = PLAN.handlers[address_of(event)](state, event)
    return state, follow


def test_the_knob_chooses_another_plan_which_is_read_and_opened() -> None:
    state, follow = choose(pedal(1), Adjusted(2, CHOSEN, 1))
    assert follow == (ReadPlan("plans/b.mxl"),)
    shown = PLAN.show(state, 2)
    assert (shown["plan_number"], shown["plans"], shown["plan_title"]) == (2, 3, "Warm-up")
    score = Plan("Quay March", (TUTTI,), (("a4", 440.0),))
    state, follow = choose(pedal(1), Adjusted(2, CHOSEN, 1), PlanRead(5, "plans/b.mxl", score))
    assert follow == (
        PlanOpened(5, "Quay March", (("a4", 440.0),)),
        Noticed(5, "plan-opened", (("title", "Quay March"),)),
    )
    shown = PLAN.show(state, 5)
    assert (shown["plan_step"], shown["plan_steps"], shown["plan_name"]) == (0, 1, "Quay March")


def test_a_plan_without_a_title_is_called_after_its_file() -> None:
    state, _ = choose(Adjusted(2, CHOSEN, 2), PlanRead(5, "plans/c.mid", Plan()))
    assert PLAN.show(state, 5)["plan_name"] == "c"


def test_a_plan_that_comes_too_late_or_not_at_all_changes_nothing_but_the_report() -> None:
    before, _ = choose(pedal(1), Adjusted(2, CHOSEN, 2))
    late = PlanRead(5, "plans/b.mxl", Plan())
    assert choose(pedal(1), Adjusted(2, CHOSEN, 2), late) == (before, ())
    broken = PlanRead(5, "plans/c.mid", None, ("plans/c.mid is cut short",))
    state, follow = choose(pedal(1), Adjusted(2, CHOSEN, 2), broken)
    assert (state, follow) == (before, (AppendLine("report.txt", broken.problems[0]), Noticed(5, "plan-bad")))
    half = PlanRead(5, "plans/c.mid", Plan("Half"), ("line 3",))
    assert choose(Adjusted(2, CHOSEN, 2), half)[1][1:] == (AppendLine("report.txt", "line 3"), Noticed(5, "plan-bad"))


def test_the_knob_stops_at_the_first_and_the_last_plan() -> None:
    assert choose(Adjusted(2, CHOSEN, -1))[1] == ()
    assert choose(Adjusted(2, CHOSEN, 9))[0].path == "plans/c.mid"
    assert choose(Adjusted(2, CHOSEN, 1), plans=())[1] == (Noticed(2, "plan-none"),)


def test_minutes_left_are_counted_up_and_go_below_nothing() -> None:
    state, _ = run(pedal(RATE))
    for seconds, left, rest in ((0, 5, 18), (1, 5, 18), (61, 4, 17), (299, 1, 13), (301, 0, 13), (361, -1, 13)):
        shown = PLAN.show(state, RATE + seconds * RATE)
        assert (shown["plan_left"], shown["plan_rest"]) == (left, rest), seconds


def test_a_step_without_minutes_shows_those_of_the_rest() -> None:
    shown = PLAN.show(run()[0], 0)
    assert (shown["plan_left"], shown["plan_rest"], shown["plan_next"]) == (None, 18, "Warm-up")
    shown = PLAN.show(run(pedal(1), pedal(2))[0], 2)
    assert (shown["plan_left"], shown["plan_rest"], shown["plan_notes"]) == (None, 13, "Horns low.")
    shown = PLAN.show(run(pedal(1), plan=Plan("", (CHORALE,)))[0], 2)
    assert (shown["plan_left"], shown["plan_rest"], shown["plan_next"]) == (None, None, "")


def test_a_plan_in_another_language_than_the_rooms_says_so() -> None:
    told = Noticed(0, "plan-names", (("language", "German"),))
    german = Plan("Dienstag", (WARM_UP,), names="german", remarks=("B is read so",))
    state, follow = run(SwitchedOn(0), plan=german)
    assert follow[1:] == (AppendLine("report.txt", ": B is read so"), told)
    sure = Plan("Dienstag", (WARM_UP,), names="german")
    _, follow = choose(Adjusted(0, CHOSEN, 1), PlanRead(0, "plans/b.mxl", sure))
    assert follow[-1] == told
    room = SettingChanged(0, "note_names", "german")
    state, follow = choose(room, SettingChanged(0, "a4", 442.0), Adjusted(0, CHOSEN, 1))
    assert follow == (ReadPlan("plans/b.mxl", "german"),)
    assert PLAN.handlers[PlanRead](state, PlanRead(0, "plans/b.mxl", sure))[1][-1].message == "plan-opened"
    nameless = Plan("Dienstag", (TUTTI,), names="german")
    assert run(SwitchedOn(0), plan=nameless)[1] == (PlanOpened(0, "Dienstag", ()),)
