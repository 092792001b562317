"""No wish of its own: puts together on which lines the contacts were heard, and says which wires are wrong."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Ask
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding, found
from firmware.selftest.step import Done, Step
from firmware.selftest.steps.rest import closed_at_rest, noisy, tied
from firmware.selftest.wires import heard_of, wrong_wires


def _next(_bench: Bench, _done: Done) -> Ask | None:
    return None


def _judge(bench: Bench, done: Done) -> tuple[Finding, ...]:
    heard = heard_of(bench, done, noisy(bench, done))
    findings = wrong_wires(bench, heard, closed_at_rest(done))
    # A key that is joined to a pedal's line is held up by the pedal's pull-up; then it is not tied to 3.3 V.
    with_pedal = {other for pedal in bench.pedals for other in heard.get(pedal.name, frozenset())}
    loose = [line for line in bench.lines if line.name in tied(bench, done) - with_pedal]
    return (*(found("tied", contact=line.spoken, place=line.place) for line in loose), *findings)


STEP: Final = Step("wires", "Wires", _next, _judge)
