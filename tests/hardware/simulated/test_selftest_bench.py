"""The simulated box under test: its time, its builder, its glass and its stick."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.screens.frame import Frame
from firmware.selftest.ask import Ask, Do
from firmware.selftest.pictures import ALL_LIT, picture
from firmware.selftest.signals import LineChanged, Passed
from firmware.selftest.steps.screen import SEEN
from firmware.units import RATE
from hardware.simulated.board import SimulatedLines
from hardware.simulated.builder import SimulatedBuilder
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest
from hardware.simulated.slow_stick import SlowStick
from hardware.stick_speed import measure_stick
from tests.firmware.selftest.benches import BENCH

LOOK = Ask("screen", Do.LOOK, "The screen shows", choices=SEEN, key="key Drone", heard="key Drone")


def test_time_goes_on_in_small_steps_and_never_back() -> None:
    box = SimulatedBoxUnderTest(BENCH, good_box(BENCH))
    box.begin(Ask("contacts", Do.PRESS, "Press Ear", subject="key Ear"))
    events, last = [], 0
    while box.now() < 3 * RATE:
        some = box.wait()
        assert last <= box.now() <= last + RATE // 20
        last = box.now()
        assert isinstance(some[-1], Passed)
        events += some
    changes = [event for event in events if isinstance(event, LineChanged)]
    assert {event.line for event in changes} == {"key Ear"}
    assert len(changes) > 2  # it bounced
    assert not changes[-1].closed


@pytest.mark.parametrize(("glass", "answer"), [("right", 1), ("flipped", 2), ("shifted", 3), ("dark", 4), ("dots", 1)])
def test_the_builder_tells_what_the_glass_shows(glass: str, answer: int) -> None:
    box = good_box(BENCH)
    box.glass = glass
    lines = SimulatedLines(BENCH, box.wiring)
    builder = SimulatedBuilder(BENCH, box, lines)
    builder.asked(LOOK, 0)
    presses, before = 0, False
    for now in range(0, 4 * RATE, 480):
        builder.move(now)
        down = "key Drone" in lines.closed()
        presses += down and not before
        before = down
    assert presses == answer
    assert builder.due is None


def test_what_glass_makes_of_a_picture() -> None:
    box = good_box(BENCH)
    shown = picture(LOOK)
    assert box.seen(shown) == shown
    for glass in ("flipped", "shifted", "dots"):
        box.glass = glass
        assert box.seen(shown) not in {shown, Frame()}
    assert np.unpackbits(np.frombuffer(box.seen(ALL_LIT).bits, np.uint8)).sum() == 127 * 64


@pytest.mark.parametrize(("speed", "stall"), [(6e6, 0.0), (250_000.0, 0.0), (6e6, 9.0)])
def test_a_slow_stick_is_measured_as_slow_as_it_is(tmp_path, speed: float, stall: float) -> None:
    stick = SlowStick(tmp_path / "KEELNOTE", 10**9, speed, stall)
    told = measure_stick(stick, stick.clock, 7)
    assert told.at == 7
    assert told.trouble == ""
    assert told.bytes_per_second == pytest.approx(speed, rel=0.01)
    assert told.longest_seconds == pytest.approx(stall + 144_000 / speed, rel=0.01)
    assert stick.names("") == ()
