"""The supply: whether its voltage is or was too low, and whether the processor is hot."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Do
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding, found
from firmware.selftest.signals import SupplyRead
from firmware.selftest.step import Done, Step, of, once

NAME: Final = "supply"

HOT: Final = 78.0
"""The processor slows itself down from 80 degrees Celsius on (Raspberry Pi documentation, "Frequency management")."""


def _judge(_bench: Bench, done: Done) -> tuple[Finding, ...]:
    findings: list[Finding] = []
    for event in (event for one in of(done, Do.READ_SUPPLY) for event in one.events if isinstance(event, SupplyRead)):
        if event.low_now:
            findings.append(found("supply-low"))
        elif event.low_before:
            findings.append(found("supply-was-low"))
        if event.celsius is not None and event.celsius >= HOT:
            findings.append(found("hot", celsius=round(event.celsius)))
    return tuple(findings)


STEP: Final = Step(NAME, "Supply", once(NAME, Do.READ_SUPPLY), _judge)
