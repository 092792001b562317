"""The steps of the self-test, one file each, in the order in which they are gone through."""

from __future__ import annotations

from typing import Final

from firmware.selftest.step import Step
from firmware.selftest.steps import clock, contacts, keyboards, knob, light, rest, screen, sound, stick, supply, wires

STEPS: Final[tuple[Step, ...]] = (
    rest.STEP,
    contacts.STEP,
    knob.STEP,
    wires.STEP,
    screen.STEP,
    light.STEP,
    stick.STEP,
    sound.STEP,
    supply.STEP,
    clock.STEP,
    keyboards.STEP,
)
