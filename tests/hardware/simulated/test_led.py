"""The simulated light blinks by the same table as the real one."""

from __future__ import annotations

from firmware.lamp import Lamp
from hardware.simulated.led import SimulatedLed


def test_it_is_lit_by_its_rhythm_and_remembers_what_it_said() -> None:
    light = SimulatedLed()
    light.start()
    assert [light.lit_at(at) for at in (0.0, 0.4, 0.6, 1.1)] == [True, True, False, True]
    light.show(Lamp.OFF)
    assert not light.lit_at(0.0)
    assert light.said == [Lamp.OFF]
