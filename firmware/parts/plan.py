"""The plan: the right pedal steps through it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.events import Noticed, PlanStepped, Wish, Wished
from firmware.parts.part import Follow, Part, Start
from firmware.plan.plan import Plan

NAME: Final = "plan"


@dataclass(frozen=True, slots=True)
class PlanState:
    """The plan, and how many of its steps have begun."""

    plan: Plan
    begun: int = 0


def _start(start: Start) -> PlanState:
    return PlanState(start.plan)


def _next(state: PlanState, event: Wished) -> tuple[PlanState, tuple[Follow, ...]]:
    if not state.plan.steps:
        return state, (Noticed(event.at, "plan-none"),)
    if state.begun == len(state.plan.steps):
        return state, (Noticed(event.at, "plan-end"),)
    step = state.plan.steps[state.begun]
    follow = (
        PlanStepped(event.at, state.begun + 1, step.title, step.values, step.marker),
        Noticed(event.at, "plan-step", (("title", step.title),)),
    )
    return replace(state, begun=state.begun + 1), follow


def _show(state: PlanState, _at: int) -> dict[str, Any]:
    title = state.plan.steps[state.begun - 1].title if state.begun else ""
    return {"plan_title": title, "plan_step": state.begun, "plan_steps": len(state.plan.steps)}


PLAN = Part(name=NAME, start=_start, handlers={Wish.PLAN_NEXT: _next}, show=_show)
