"""A bench and events for tests of the self-test."""

from __future__ import annotations

from firmware.selftest.ask import Ask, Do, Evidence
from firmware.selftest.bench import Bench, Line
from firmware.selftest.signals import LineChanged, LinesProbed, Probe
from firmware.units import RATE

KEYS = ("Drone", "Compare", "Pulse", "Ear", "Take", "Replay")
PLACES = (29, 31, 33, 32, 36, 37)

BENCH = Bench(
    keys=tuple(Line(f"key {name}", place, 0.005) for name, place in zip(KEYS, PLACES, strict=True)),
    a=Line("knob a", 11, 0.005),
    b=Line("knob b", 13, 0.005),
    push=Line("knob push", 15, 0.005),
    pedals=(Line("left pedal", 16, 0.01, outside=True), Line("right pedal", 18, 0.01, outside=True)),
    power=Line("power key", 7, 0.03),
    clock=0x68,
)


def edges(line: str, *seconds: float, closed: bool = True) -> tuple[LineChanged, ...]:
    """Edges of a line at some times, the first one closing it (or opening it)."""
    return tuple(
        LineChanged(round(second * RATE), line, closed == (number % 2 == 0)) for number, second in enumerate(seconds)
    )


def evidence(
    do: Do, *events: object, subject: str = "", closed: frozenset[str] = frozenset(), **more: object
) -> Evidence:
    """Evidence for a wish that lasted from 0 to 10 s."""
    ask = Ask("x", do, subject=subject, **more)
    return Evidence(ask, 0, tuple(events), closed, 10 * RATE)


def press(line: str, *heard: str) -> Evidence:
    """A press of a second that was heard on some lines."""
    events = sorted((edge for one in heard for edge in edges(one, 1.0, 2.0)), key=lambda edge: edge.at)
    return evidence(Do.PRESS, *events, subject=line)


def probed(**read: tuple[bool, bool]) -> LinesProbed:
    """A probe of every line; those that are named read as given, the others as good ones do."""
    good = {line.name: (True, line.outside) for line in BENCH.lines}
    good |= {name.replace("_", " "): value for name, value in read.items()}
    return LinesProbed(0, tuple(Probe(name, up, down) for name, (up, down) in good.items()))
