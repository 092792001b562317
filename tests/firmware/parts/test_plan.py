"""The plan part: one pedal press, one step."""

from __future__ import annotations

from firmware.events import Noticed, PlanStepped, Wish, Wished
from firmware.parts.part import Start
from firmware.parts.plan import PLAN
from firmware.plan.plan import Plan, PlanStep


def test_steps_come_in_order_and_end() -> None:
    plan = Plan("Tuesday", (PlanStep("Warm-up", (("tonic", "F"),)), PlanStep("Chorale", (), marker="A")))
    state = PLAN.start(Start(plan=plan))
    step = PLAN.handlers[Wish.PLAN_NEXT]
    assert PLAN.show(state, 0) == {"plan_title": "", "plan_step": 0, "plan_steps": 2}
    state, follow = step(state, Wished(1, Wish.PLAN_NEXT))
    assert follow == (
        PlanStepped(1, 1, "Warm-up", (("tonic", "F"),)),
        Noticed(1, "plan-step", (("title", "Warm-up"),)),
    )
    assert PLAN.show(state, 1)["plan_title"] == "Warm-up"
    state, follow = step(state, Wished(2, Wish.PLAN_NEXT))
    assert follow[0] == PlanStepped(2, 2, "Chorale", (), "A")
    assert step(state, Wished(3, Wish.PLAN_NEXT)) == (state, (Noticed(3, "plan-end"),))


def test_no_plan_says_so() -> None:
    state = PLAN.start(Start())
    assert PLAN.handlers[Wish.PLAN_NEXT](state, Wished(1, Wish.PLAN_NEXT))[1] == (Noticed(1, "plan-none"),)
