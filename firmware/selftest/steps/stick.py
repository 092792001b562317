"""The stick: whether it is there, writable, roomy, fast and steady."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Do
from firmware.selftest.bench import Bench
from firmware.selftest.finding import BY_CODE, Finding, found
from firmware.selftest.signals import StickMeasured
from firmware.selftest.step import Done, Step, of, once

NAME: Final = "stick"

LEAST_BYTES: Final = 200_000_000
"""Room for ten minutes of stereo at 24 bits."""

LEAST_SPEED: Final = 1_000_000.0
"""Bytes in a second. A stereo take brings 288 000 (48 kHz, 24 bits, uncompressed); the rest is for bad moments."""

LONGEST_SECONDS: Final = 3.0
"""A stall that a class would notice as a late "take is safe"."""


def _judge(_bench: Bench, done: Done) -> tuple[Finding, ...]:
    measured = [event for one in of(done, Do.MEASURE_STICK) for event in one.events if isinstance(event, StickMeasured)]
    if not measured:
        return (found("stick-error"),)
    stick = measured[-1]
    if stick.trouble:
        return (found(stick.trouble if stick.trouble in BY_CODE else "stick-error"),)
    findings = []
    if stick.free_bytes < LEAST_BYTES:
        findings.append(found("stick-full"))
    if stick.bytes_per_second < LEAST_SPEED:
        findings.append(found("stick-slow", speed=f"{stick.bytes_per_second / 1e6:.2f}"))
    if stick.longest_seconds > LONGEST_SECONDS:
        findings.append(found("stick-stalls", seconds=f"{stick.longest_seconds:.0f}"))
    return tuple(findings)


STEP: Final = Step(NAME, "Stick", once(NAME, Do.MEASURE_STICK, patience=60.0), _judge)
