"""The LED: long dark, short lit, so that a wrong sense can be seen."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Ask, Do
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding, found
from firmware.selftest.step import Done, Step, answer_of, of, question, unanswered

NAME: Final = "light"

SEEN: Final = ("short flashes", "always dark", "always lit", "lit, short gaps")
FAULTS: Final = {2: "led-dark", 3: "led-lit", 4: "led-inverted"}


def _next(bench: Bench, done: Done) -> Ask | None:
    return None if of(done, Do.WATCH_LED) else question(bench, done, NAME, Do.WATCH_LED, "The LED shows", SEEN)


def _judge(bench: Bench, done: Done) -> tuple[Finding, ...]:
    fault = FAULTS.get(answer_of(done, Do.WATCH_LED))
    lit = (found(fault, place=bench.led_place),) if fault else ()
    return (*lit, *unanswered(done, Do.WATCH_LED, "light"))


STEP: Final = Step(NAME, "Light", _next, _judge)
