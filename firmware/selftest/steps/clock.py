"""The clock chip, where one is fitted: whether it answers, and whether it went on."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Ask, Do
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding, found
from firmware.selftest.signals import ClockRead
from firmware.selftest.step import Done, Step, of
from firmware.selftest.steps.screen import TOO_MANY, scan_of

NAME: Final = "clock"


def _next(bench: Bench, done: Done) -> Ask | None:
    return None if bench.clock is None or of(done, Do.READ_CLOCK) else Ask(NAME, Do.READ_CLOCK)


def _judge(bench: Bench, done: Done) -> tuple[Finding, ...]:
    scan = scan_of(done)
    if scan is not None and (not scan.addresses or len(scan.addresses) > TOO_MANY):
        return ()  # the bus is at fault, which the step of the screen says
    for event in (event for one in of(done, Do.READ_CLOCK) for event in one.events if isinstance(event, ClockRead)):
        if not event.there:
            return (found("clock-absent", address=f"0x{bench.clock or 0:02X}"),)
        if not event.running:
            return (found("clock-stopped"),)
    return ()


STEP: Final = Step(NAME, "Clock", _next, _judge)
