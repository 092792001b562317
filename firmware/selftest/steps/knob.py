"""The knob's turn: its sense, its clicks, its two tracks."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Ask, Do
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding, found
from firmware.selftest.quadrature import Turned, turned
from firmware.selftest.step import Done, Step, moved, of, places

NAME: Final = "knob"

CLICKS: Final = 10
"""Enough that a miscount by one does not look like a lost click."""

CHATTER: Final = 24
"""Edges for one click; four are needed, and a new encoder adds some bounces to each."""

_TEXTS: Final = ((Do.TURN_RIGHT, "right"), (Do.TURN_LEFT, "left"))


def _next(_bench: Bench, done: Done) -> Ask | None:
    for do, way in _TEXTS:
        if not of(done, do):
            return Ask(NAME, do, f"Turn the knob {CLICKS} clicks to the {way}", patience=20.0)
    return None


def _judge(bench: Bench, done: Done) -> tuple[Finding, ...]:
    turns = [one for do, _ in _TEXTS for one in of(done, do)]
    both = {bench.a.name, bench.b.name}
    if len(turns) < 2 or not all(both <= moved(one) for one in turns):
        return ()  # which wire that is, the step of the wires says
    right, left = (turned(one.events, bench.a.name, bench.b.name) for one in turns)
    if right.as_one and left.as_one:
        return (found("joined", first=bench.a.spoken, second=bench.b.spoken, places=places(bench.a, bench.b)),)
    return (*_sense(bench, right, left), *_clicks(right, left), *_chatter(right, left))


def _sense(bench: Bench, right: Turned, left: Turned) -> tuple[Finding, ...]:
    backwards = right.cycles < -1 and left.cycles > 1
    return (found("knob-backwards", places=places(bench.a, bench.b)),) if backwards else ()


def _clicks(right: Turned, left: Turned) -> tuple[Finding, ...]:
    counts = [abs(right.cycles), abs(left.cycles)]
    if all(abs(count - CLICKS / 2) <= 0.75 for count in counts):
        return (found("knob-half"),)
    if all(count >= 1.6 * CLICKS for count in counts):
        return (found("knob-double"),)
    if min(counts) < CLICKS - 1.5:
        return (found("knob-loses", count=round(min(counts)), asked=CLICKS),)
    return ()


def _chatter(right: Turned, left: Turned) -> tuple[Finding, ...]:
    clicks = max(abs(right.cycles) + abs(left.cycles), 1.0)
    edges = (right.a_edges + right.b_edges + left.a_edges + left.b_edges) / clicks
    return (found("knob-chatters", edges=round(edges)),) if edges > CHATTER else ()


STEP: Final = Step(NAME, "Knob", _next, _judge)
