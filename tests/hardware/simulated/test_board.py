"""The model of the wiring: what reads high and low, and what solder does to it."""

from __future__ import annotations

import pytest

from hardware.simulated.board import SimulatedLines, wired
from tests.firmware.selftest.benches import BENCH


@pytest.fixture
def lines() -> SimulatedLines:
    """A box without a fault."""
    return SimulatedLines(BENCH, wired(BENCH))


def test_at_rest_every_line_is_high_and_only_pedals_stay_so_when_pulled_down(lines: SimulatedLines) -> None:
    assert lines.closed() == frozenset()
    assert {probe.line for probe in lines.probes() if probe.high_pulled_down} == {"left pedal", "right pedal"}
    assert all(probe.high_pulled_up for probe in lines.probes())


def test_a_press_pulls_its_own_line_low(lines: SimulatedLines) -> None:
    lines.press("key Ear", down=True)
    assert lines.closed() == {"key Ear"}
    lines.press("key Ear", down=False)
    lines.press("key Ear", down=False)
    assert lines.closed() == frozenset()


def test_swapped_and_cut_wires(lines: SimulatedLines) -> None:
    lines.wiring.swap("key Ear", "key Take")
    lines.press("key Ear", down=True)
    assert lines.closed() == {"key Take"}
    lines.wiring.cut("key Ear")
    assert lines.closed() == frozenset()


def test_bridges_join_over_several_lines_and_carry_pull_ups(lines: SimulatedLines) -> None:
    lines.wiring.bridges |= {frozenset({"key Ear", "key Take"}), frozenset({"key Take", "left pedal"})}
    lines.press("key Ear", down=True)
    assert lines.closed() == {"key Ear", "key Take", "left pedal"}
    lines.press("key Ear", down=False)
    assert lines.high("key Ear", pulled_up=False)


def test_shorts_and_closed_pedals(lines: SimulatedLines) -> None:
    lines.wiring.to_ground.add("key Pulse")
    lines.wiring.to_supply.add("key Drone")
    lines.wiring.closed_up.add("left pedal")
    assert lines.closed() == {"key Pulse", "left pedal"}
    assert lines.high("key Drone", pulled_up=False)
    lines.press("left pedal", down=True)
    assert lines.closed() == {"key Pulse"}
