"""From what each contact was heard on to which wires are wrong: swapped, mixed up, misplaced, joined, silent."""

from __future__ import annotations

from collections.abc import Mapping

from firmware.selftest.ask import Do
from firmware.selftest.bench import Bench, Line
from firmware.selftest.finding import Finding, found
from firmware.selftest.step import Done, moved, of, places

Heard = Mapping[str, frozenset[str]]
"""For each contact that was tried, the lines that moved with it."""

PRESSED = (Do.PRESS, Do.STEP_ON)
TURNED = (Do.TURN_RIGHT, Do.TURN_LEFT)


def heard_of(bench: Bench, done: Done, noisy: frozenset[str] = frozenset()) -> Heard:
    """What each contact was heard on; the last try counts. Contacts that were not tried are left out.

    A `noisy` line moves by itself, so it counts for its own contact alone.
    """
    heard: dict[str, frozenset[str]] = {}
    for one in done:
        if one.ask.do in PRESSED:
            heard[one.ask.subject] = moved(one) - (noisy - {one.ask.subject})
    turns = [moved(one) for do in TURNED for one in of(done, do)]
    if turns:
        heard |= _tracks(bench, frozenset().union(*turns) - (noisy - {bench.a.name, bench.b.name}))
    return heard


def _tracks(bench: Bench, lines: frozenset[str]) -> dict[str, frozenset[str]]:
    """Give the lines that moved under a turn to the two tracks: each its own if it moved, the rest to the other."""
    a, b = bench.a.name, bench.b.name
    others = sorted(lines - {a, b})
    if a in lines and b in lines:
        return {a: frozenset({a}), b: frozenset({b, *others})}
    if a in lines or b in lines:
        mine, other = (a, b) if a in lines else (b, a)
        return {mine: frozenset({mine}), other: frozenset(others)}
    return {a: frozenset(others[:1]), b: frozenset(others[1:])}


def wrong_wires(bench: Bench, heard: Heard, at_rest: frozenset[str]) -> tuple[Finding, ...]:
    """Name the faults.

    Parameters
    ----------
    heard : mapping
        See `heard_of`.
    at_rest : frozenset of str
        Lines that were closed while nobody touched anything.
    """
    joined = {frozenset({name, other}) for name, lines in heard.items() if name in lines for other in lines - {name}}
    findings = [_joined(bench, pair) for pair in sorted(joined, key=sorted)]
    alone = {name: next(iter(lines)) for name, lines in heard.items() if len(lines) == 1 and name not in lines}
    findings += _exchanged(bench, alone)
    silent = [name for name, lines in heard.items() if not lines]
    if {bench.a.name, bench.b.name} <= set(silent):
        findings.append(found("knob-silent"))
        silent = [name for name in silent if name not in {bench.a.name, bench.b.name}]
    findings += [_silent(bench, bench.line(name), at_rest) for name in silent]
    return tuple(findings)


def _joined(bench: Bench, pair: frozenset[str]) -> Finding:
    first, second = (line for line in bench.lines if line.name in pair)
    return found("joined", first=first.spoken, second=second.spoken, places=places(first, second))


def _silent(bench: Bench, line: Line, at_rest: frozenset[str]) -> Finding:
    if line.name in at_rest:
        return found("stuck", contact=line.spoken, place=line.place)
    if line in (bench.a, bench.b):
        return found("knob-track", track=line.spoken[-1], place=line.place)
    return found("silent", contact=line.spoken, place=line.place)


def _exchanged(bench: Bench, alone: Mapping[str, str]) -> list[Finding]:
    """Name the rings of contacts that are heard on each other's lines, and those on a line that is not in a ring."""
    findings, left = [], dict(alone)
    for line in bench.lines:
        ring = _ring(line.name, left)
        if ring:
            for name in ring:
                del left[name]
            findings.append(_ring_finding([one for one in bench.lines if one.name in ring]))
    for name, other in left.items():
        first, second = bench.line(name), bench.line(other)
        findings.append(found("misplaced", first=first.spoken, second=second.spoken, place=first.place))
    return findings


def _ring(start: str, alone: Mapping[str, str]) -> tuple[str, ...]:
    """The contacts from `start` on, each heard on the line of the next, back to `start`; empty if it never comes."""
    ring, here = [start], alone.get(start)
    while here is not None and here not in ring:
        ring.append(here)
        here = alone.get(here)
    return tuple(ring) if here == start else ()


def _ring_finding(lines: list[Line]) -> Finding:
    if len(lines) == 2:
        first, second = lines
        return found("swapped", first=first.spoken, second=second.spoken, places=places(first, second))
    return found("mixed", contacts=", ".join(line.spoken for line in lines), places=places(*lines))
