"""The plan: the right pedal steps through it, the knob goes to any step of it, or to another plan on the stick."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.commands import AppendLine, ReadPlan
from firmware.events import (
    Adjusted,
    ChordMoved,
    Event,
    Noticed,
    PlanOpened,
    PlanRead,
    PlanStepped,
    SettingChanged,
    StickListed,
    SwitchedOn,
    Wish,
    Wished,
)
from firmware.music.languages import language_named
from firmware.parts.part import Follow, Part, Start
from firmware.plan.plan import Plan, PlanStep
from firmware.plan.plan_names import NAMED
from firmware.settings import Value
from firmware.units import RATE

NAME: Final = "plan"
STEP: Final = "plan_step"
"""Field that turns through the steps."""
CHOSEN: Final = "chosen_plan"
"""Field that turns through the plans and scores on the stick."""
REPORT: Final = "report.txt"
MINUTE: Final = 60.0 * RATE

Outcome = tuple["PlanState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class PlanState:
    """The plan, how many of its steps have begun, and on which sample the last of them did."""

    plan: Plan
    plans: tuple[str, ...] = ()
    """Paths on the stick."""
    path: str = ""
    """Path of the plan that was chosen, which may still have to be read."""
    begun: int = 0
    since: int = 0
    names: str = ""
    """Language of the room's note names."""
    chords: ChordMoved | None = None
    """Where a progression is that the pedal moves."""

    @property
    def step(self) -> PlanStep | None:
        """The step that is under way."""
        return self.plan.steps[self.begun - 1] if self.begun else None


def _start(start: Start) -> PlanState:
    return PlanState(start.plan, start.plans, start.plan_path, names=start.values.text("note_names"))


def _switched_on(state: PlanState, event: SwitchedOn) -> Outcome:
    if not state.plan.steps:
        return state, ()
    return state, (PlanOpened(event.at, state.plan.title, state.plan.values), *_told_names(state, event.at))


def _told_names(state: PlanState, at: int) -> tuple[Follow, ...]:
    """Say in which language a plan names its notes, if that is not the room's or may be another."""
    plan = state.plan
    if not plan.steps or (plan.names == state.names and not plan.remarks) or not _names_notes(plan):
        return ()
    lines = tuple(AppendLine(REPORT, f"{state.path}: {remark}") for remark in plan.remarks)
    return *lines, Noticed(at, "plan-names", (("language", language_named(plan.names).title),))


def _names_notes(plan: Plan) -> bool:
    return any(name in NAMED for step in plan.steps for name, _ in step.values)


def _names(state: PlanState, event: SettingChanged) -> Outcome:
    return (replace(state, names=str(event.value)), ()) if event.name == "note_names" else (state, ())


def _listed(state: PlanState, event: StickListed) -> Outcome:
    """Offer the plans of a stick that was put in; without a plan the first of them is opened."""
    state = replace(state, plans=event.plans)
    if state.plan.steps or not event.plans:
        return state, ()
    return replace(state, path=event.plans[0]), (ReadPlan(event.plans[0], state.names),)


def _moved(state: PlanState, event: ChordMoved) -> Outcome:
    return replace(state, chords=event if event.by_pedal and event.chord is not None else None), ()


def _next(state: PlanState, event: Wished) -> Outcome:
    """Begin the next step; a progression that the pedal moves first comes to its end, and alone it goes round."""
    done = state.begun == len(state.plan.steps)
    if state.chords is not None and (done or not state.chords.last):
        return state, ()
    if not state.plan.steps:
        return state, (Noticed(event.at, "plan-none"),)
    if state.begun == len(state.plan.steps):
        return state, (Noticed(event.at, "plan-end"),)
    return _begin(state, event, state.begun + 1, state.plan.steps[state.begun].values)


def _begin(state: PlanState, event: Event, number: int, values: tuple[tuple[str, Value], ...]) -> Outcome:
    step = state.plan.steps[number - 1]
    follow = (
        PlanStepped(event.at, number, step.title, values, step.marker, step.notes, step.take, step.drill or ""),
        Noticed(event.at, "plan-step", (("title", step.title),)),
    )
    return replace(state, begun=number, since=event.at), follow


def _adjust(state: PlanState, event: Adjusted) -> Outcome:
    return _choose(state, event) if event.field == CHOSEN else _go(state, event)


def _choose(state: PlanState, event: Adjusted) -> Outcome:
    """Ask for another plan of the stick; the one that is open stays until that is read."""
    if not state.plans:
        return state, (Noticed(event.at, "plan-none"),)
    here = state.plans.index(state.path) if state.path in state.plans else -1
    path = state.plans[min(max(here + event.steps, 0), len(state.plans) - 1)]
    return (state, ()) if path == state.path else (replace(state, path=path), (ReadPlan(path, state.names),))


def _read(state: PlanState, event: PlanRead) -> Outcome:
    """Open a plan that was read, before its first step; what is wrong in it goes to the report."""
    lines = tuple(AppendLine(REPORT, line) for line in event.problems)
    follow: tuple[Follow, ...] = (*lines, Noticed(event.at, "plan-bad")) if lines else ()
    if event.path != state.path or event.plan is None:
        return state, follow
    opened = PlanOpened(event.at, event.plan.title, event.plan.values)
    state = replace(state, plan=event.plan, begun=0, since=event.at, chords=None)
    good = follow or (Noticed(event.at, "plan-opened", (("title", _name(state)),)),)
    return state, (opened, *good, *_told_names(state, event.at))


def _name(state: PlanState) -> str:
    """Title of the plan; without one the name of its file."""
    return state.plan.title or state.path.rpartition("/")[2].rpartition(".")[0]


def _go(state: PlanState, event: Adjusted) -> Outcome:
    """Go to another step, with everything as the steps before would have left it."""
    if not state.plan.steps:
        return state, (Noticed(event.at, "plan-none"),)
    number = min(max(state.begun + event.steps, 1), len(state.plan.steps))
    if number == state.begun:
        return state, (Noticed(event.at, "plan-end"),) if event.steps > 0 else ()
    return _begin(state, event, number, state.plan.up_to(number))


def _minutes_left(state: PlanState, at: int) -> tuple[int | None, int | None]:
    """Whole minutes left of the step and of the rehearsal, below 0 when they are over; None where none are planned."""
    step = state.step
    after = state.plan.minutes_after(state.begun)
    if step is None or not step.minutes:
        return None, math.ceil(after) if after else None
    left = step.minutes - (at - state.since) / MINUTE
    return math.ceil(left), math.ceil(max(left, 0.0) + after)


def _show(state: PlanState, at: int) -> dict[str, Any]:
    step = state.step
    steps = state.plan.steps
    left, rest = _minutes_left(state, at)
    return {
        "plan_title": step.title if step else "",
        "plan_step": state.begun,
        "plan_steps": len(steps),
        "plan_name": _name(state),
        "plan_number": state.plans.index(state.path) + 1 if state.path in state.plans else 0,
        "plans": len(state.plans),
        "plan_notes": step.notes if step else "",
        "plan_next": steps[state.begun].title if state.begun < len(steps) else "",
        "plan_left": left,
        "plan_rest": rest,
    }


PLAN = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        SettingChanged: _names,
        StickListed: _listed,
        ChordMoved: _moved,
        PlanRead: _read,
        Wish.PLAN_NEXT: _next,
        Adjusted: _adjust,
    },
    fields=frozenset({STEP, CHOSEN}),
    show=_show,
)
