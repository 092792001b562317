"""Nobody touches anything: every line must be still, open, and held up by the right pull-up."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Ask, Do, Evidence
from firmware.selftest.bench import Bench
from firmware.selftest.contacts import edges_of
from firmware.selftest.finding import Finding, found
from firmware.selftest.step import Done, Step, of, probes
from firmware.units import RATE

NAME: Final = "rest"
SECONDS: Final = 2.0

FIRST_SECONDS: Final = 0.2
"""Lines that are closed from the start say so in this time."""

SPARKS: Final = 3
"""More edges than that with nobody near are noise."""


def closed_at_rest(done: Done) -> frozenset[str]:
    """Lines that read low while nobody touched them."""
    return frozenset(
        probe.line for one in of(done, Do.PROBE) for probe in probes(one).values() if not probe.high_pulled_up
    )


def tied(bench: Bench, done: Done) -> frozenset[str]:
    """Lines inside the box that stay high against the pull-down: something holds them up that should not be there."""
    inside = {line.name for line in bench.lines if not line.outside}
    return frozenset(
        probe.line
        for one in of(done, Do.PROBE)
        for probe in probes(one).values()
        if probe.high_pulled_up and probe.high_pulled_down and probe.line in inside
    )


def _next(_bench: Bench, done: Done) -> Ask | None:
    if not of(done, Do.HANDS_OFF):
        return Ask(NAME, Do.HANDS_OFF, "Hands and feet off, knob on a click", patience=SECONDS)
    return None if of(done, Do.PROBE) else Ask(NAME, Do.PROBE)


def noisy(bench: Bench, done: Done) -> frozenset[str]:
    """Lines that changed while nobody touched them."""
    watched = of(done, Do.HANDS_OFF)
    return frozenset(line.name for line in bench.lines if any(_sparks(one, line.name) > SPARKS for one in watched))


def _judge(bench: Bench, done: Done) -> tuple[Finding, ...]:
    loud = noisy(bench, done)
    return tuple(found("noisy", contact=line.spoken, place=line.place) for line in bench.lines if line.name in loud)


def _sparks(one: Evidence, line: str) -> int:
    return sum(edge.at > one.began + FIRST_SECONDS * RATE for edge in edges_of(one.events, line))


STEP: Final = Step(NAME, "At rest", _next, _judge)
