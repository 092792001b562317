"""Every key, the knob's push, the power key and the pedals, one after the other."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Ask, Do, Evidence
from firmware.selftest.bench import Bench, Line
from firmware.selftest.contacts import bursts_of
from firmware.selftest.finding import Finding, found
from firmware.selftest.step import Done, Step, moved, of, probes
from firmware.selftest.steps.rest import tied

NAME: Final = "contacts"

TRIES: Final = 2
"""A press that was not heard as it should be is asked for once more: fingers err too."""

PROBE_AFTER: Final = "after "
"""A probe while a pedal is down has this before the pedal's name as its subject."""


def _pressed(bench: Bench) -> tuple[Line, ...]:
    return (*bench.keys, bench.push, bench.power)


def _next(bench: Bench, done: Done) -> Ask | None:
    for line in _pressed(bench):
        if line.name not in tied(bench, done):
            ask = _press(line, of(done, Do.PRESS, line.name))
            if ask is not None:
                return ask
    for line in bench.pedals:
        ask = _pedal(line, done)
        if ask is not None:
            return ask
    return None


def _press(line: Line, tries: Done) -> Ask | None:
    if len(tries) == TRIES or (tries and _enough(line, tries[-1])):
        return None
    again = " once more" if tries else ""
    what = {"knob push": "Push the knob in", "power key": "Press the power key"}.get(line.name, f"Press {line.spoken}")
    return Ask(NAME, Do.PRESS, f"{what}{again}, hold for a second", subject=line.name)


def _pedal(line: Line, done: Done) -> Ask | None:
    stepped = of(done, Do.STEP_ON, line.name)
    if not stepped:
        return Ask(NAME, Do.STEP_ON, f"Step on the {line.spoken} and stay on it", subject=line.name)
    if not moved(stepped[-1]):
        return None
    if not of(done, Do.PROBE, PROBE_AFTER + line.name):
        return Ask(NAME, Do.PROBE, subject=PROBE_AFTER + line.name)
    if not of(done, Do.LET_GO, line.name):
        return Ask(NAME, Do.LET_GO, f"Step off the {line.spoken}", subject=line.name)
    return None


def _enough(line: Line, one: Evidence) -> bool:
    """Whether a press need not be asked for again: it was clean, or its key has stayed down."""
    manners = _manners(line, one)
    return moved(one) == {line.name} and (not manners or any(finding.code == "sticks" for finding in manners))


def _judge(bench: Bench, done: Done) -> tuple[Finding, ...]:
    findings: list[Finding] = []
    for line in _pressed(bench):
        tries = of(done, Do.PRESS, line.name)
        if tries and line.name in moved(tries[-1]):
            findings += _manners(line, tries[-1])
    for line in bench.pedals:
        findings += _pull_up(bench, line, done)
    return tuple(findings)


def _manners(line: Line, one: Evidence) -> list[Finding]:
    """How a contact behaved that was heard on its own line: it bounces, lets go, stays down."""
    bursts = bursts_of(one.events, line.name)
    findings = []
    longest = max((burst.seconds for burst in bursts if burst.before != burst.after), default=0.0)
    if longest > line.settle:
        findings.append(found("bounces", contact=line.spoken, ms=round(1000 * longest)))
    if bursts and bursts[-1].after:
        findings.append(found("sticks", contact=line.spoken))
    if len(bursts) > 2:
        findings.append(found("lets-go", contact=line.spoken))
    return findings


def _pull_up(bench: Bench, line: Line, done: Done) -> list[Finding]:
    """Whether an open pedal is held up against the pull-down; its open position may be the upper or the lower one."""
    at_rest = [probes(one) for one in of(done, Do.PROBE)]
    held = [probes(one) for one in of(done, Do.PROBE, PROBE_AFTER + line.name)]
    read = [found_[line.name] for found_ in (*at_rest, *held) if line.name in found_]
    opened = [probe for probe in read if probe.high_pulled_up]
    if opened and not any(probe.high_pulled_down for probe in opened):
        part = f"R{2 * bench.pedals.index(line) + 2}"
        return [found("no-pull-up", pedal=line.spoken, part=part, place=line.place)]
    return []


STEP: Final = Step(NAME, "Keys and pedals", _next, _judge)
