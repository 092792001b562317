"""The self-test as a state machine: events in, wishes and findings out; time comes as sample counts."""

from __future__ import annotations

from dataclasses import dataclass, replace

from firmware.events import Event
from firmware.selftest.ask import Ask, Evidence, over
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding
from firmware.selftest.signals import LineChanged, Passed
from firmware.selftest.steps import STEPS


@dataclass(frozen=True, slots=True)
class Walk:
    """How far the self-test has come.

    Parameters
    ----------
    bench : Bench
        What is tested.
    names : tuple of str
        Steps that are gone through, in their order.
    at : int
        Number of the step that is under way; len(names) when all are done.
    ask : Ask or None
        What is wanted now; None at the end.
    began : int
        When that was first wanted, in samples.
    events : tuple of Event
        What came since then.
    done : tuple of Evidence
        All that came before.
    findings : tuple of Finding
        Faults so far, each once.
    closed : frozenset of str
        Lines that are closed now.
    before : frozenset of str
        Lines that were closed when the present wish began.
    """

    bench: Bench
    names: tuple[str, ...]
    at: int = 0
    ask: Ask | None = None
    began: int = 0
    events: tuple[Event, ...] = ()
    done: tuple[Evidence, ...] = ()
    findings: tuple[Finding, ...] = ()
    closed: frozenset[str] = frozenset()
    before: frozenset[str] = frozenset()

    @property
    def over(self) -> bool:
        """Whether all steps are done."""
        return self.at >= len(self.names)


def begin(bench: Bench, skip: frozenset[str] = frozenset(), at: int = 0) -> Walk:
    """Begin the self-test at a sample count, some of its steps left out."""
    names = tuple(step.name for step in STEPS if step.name not in skip)
    return _advance(Walk(bench, names), at)


def handle(walk: Walk, event: Event) -> Walk:
    """The self-test after an event; `walk.ask` is what it wants then, the same object while it still wants the same."""
    ask = walk.ask
    if ask is None:
        return walk
    if isinstance(event, LineChanged):
        closed = walk.closed | {event.line} if event.closed else walk.closed - {event.line}
        walk = replace(walk, closed=closed)
    if not isinstance(event, Passed):
        walk = replace(walk, events=(*walk.events, event))
    if not over(ask, walk.events, walk.before, walk.began, event.at):
        return walk
    evidence = Evidence(ask, walk.began, walk.events, walk.before, event.at)
    return _advance(replace(walk, ask=None, events=(), done=(*walk.done, evidence)), event.at)


def _advance(walk: Walk, at: int) -> Walk:
    """Find the next wish; steps that want nothing more are judged and left."""
    steps = {step.name: step for step in STEPS}
    while not walk.over:
        step = steps[walk.names[walk.at]]
        ask = step.next(walk.bench, walk.done)
        if ask is not None:
            return replace(walk, ask=ask, began=at, before=walk.closed)
        fresh = tuple(one for one in step.judge(walk.bench, walk.done) if one not in walk.findings)
        walk = replace(walk, at=walk.at + 1, findings=(*walk.findings, *fresh))
    return walk
