"""What a step of the self-test is, and what steps share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from firmware.selftest.ask import Ask, Do, Evidence
from firmware.selftest.bench import Bench, Line
from firmware.selftest.contacts import edges_of, moved_lines
from firmware.selftest.finding import Finding, found
from firmware.selftest.signals import LinesProbed, Probe

Done = tuple[Evidence, ...]
"""All evidence so far, of every step."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Parameters
    ----------
    name, title : str
        Its name, and what the builder reads.
    next : function
        What it wants next, given all evidence so far; None when it has enough.
    judge : function
        What it found.
    """

    name: str
    title: str
    next: Callable[[Bench, Done], Ask | None]
    judge: Callable[[Bench, Done], tuple[Finding, ...]]


ANSWER_PATIENCE: Final = 30.0
"""Seconds for a question: the builder looks, thinks, and finds the key."""


def of(done: Done, do: Do, subject: str = "") -> Done:
    """The evidence for one kind of wish about one subject."""
    return tuple(one for one in done if one.ask.do is do and one.ask.subject == subject)


def probes(evidence: Evidence) -> dict[str, Probe]:
    """How every line read, if this evidence is of a probe."""
    return {probe.line: probe for event in evidence.events if isinstance(event, LinesProbed) for probe in event.probes}


def moved(evidence: Evidence) -> frozenset[str]:
    """Lines that moved during a wish."""
    return moved_lines(evidence.events, evidence.closed, evidence.ended)


def answer_key(bench: Bench, done: Done) -> tuple[str, str]:
    """A key to answer with and the line on which it is heard: the first that works alone; two empty ones for none."""
    for line in (*bench.keys, bench.push):
        for one in of(done, Do.PRESS, line.name)[-1:]:  # the last try counts: at the first a finger may have erred
            heard = moved(one)
            if len(heard) == 1 and not heard & one.closed and not edges_of(one.events, *heard)[-1].closed:
                return line.name, next(iter(heard))
    return "", ""


def question(bench: Bench, done: Done, step: str, do: Do, text: str, choices: tuple[str, ...]) -> Ask:
    """A question that is answered by pressing a key so many times."""
    key, heard = answer_key(bench, done)
    patience = ANSWER_PATIENCE if key else 4.0
    return Ask(step, do, text, choices=choices, key=key, heard=heard, patience=patience)


def answer_of(done: Done, do: Do) -> int:
    """The answer to a question, 0 for none."""
    asked = of(done, do)
    return asked[-1].answer if asked else 0


def unanswered(done: Done, do: Do, what: str) -> tuple[Finding, ...]:
    """A finding if a question was asked in vain."""
    asked = of(done, do)
    return (found("unanswered", question=what),) if asked and not asked[-1].answer else ()


def once(step: str, do: Do, text: str = "", patience: float = 20.0) -> Callable[[Bench, Done], Ask | None]:
    """What a step wants that wants one thing."""

    def wants(_bench: Bench, done: Done) -> Ask | None:
        return None if of(done, do) else Ask(step, do, text, patience=patience)

    return wants


def places(*lines: Line) -> str:
    """Places of some lines on the header, in words."""
    numbers = [str(line.place) for line in lines]
    return f"{', '.join(numbers[:-1])} and {numbers[-1]}" if len(numbers) > 1 else numbers[0]
