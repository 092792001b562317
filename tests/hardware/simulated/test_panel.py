"""The simulated panel posts what a hand would cause, at the times when it would happen."""

import pytest

from firmware.errors import UnknownNameError
from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey, Pedal, PedalDown, PedalUp
from firmware.units import RATE
from hardware.simulated.panel import SimulatedPanel, panel_key, pedal_named


class Bench:
    """A panel with a clock that a test sets."""

    def __init__(self) -> None:
        self.now = 0
        self.events: list[Event] = []
        self.panel = SimulatedPanel()
        self.panel.start(self.events.append, lambda: self.now)

    def run(self, seconds: float) -> list[Event]:
        self.now += round(seconds * RATE)
        self.panel.pump(self.now)
        found, self.events[:] = list(self.events), []
        return found


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_single_movements_are_posted_at_once(bench: Bench):
    bench.now = 7
    panel = bench.panel
    panel.press("drone")
    panel.press(PanelKey.DRONE)
    panel.release("Drone")
    panel.release("Drone")
    panel.turn(-2)
    panel.turn(0)
    panel.knob_down()
    panel.knob_up()
    panel.pedal_down("left")
    panel.pedal_up(Pedal.LEFT)
    assert bench.events == [
        KeyDown(7, PanelKey.DRONE),
        KeyUp(7, PanelKey.DRONE),
        KnobTurn(7, -1),
        KnobTurn(7, -1),
        KnobDown(7),
        KnobUp(7),
        PedalDown(7, Pedal.LEFT),
        PedalUp(7, Pedal.LEFT),
    ]


def test_a_tap_ends_after_80_ms(bench: Bench):
    bench.panel.tap("Ear")
    assert bench.panel.down == {PanelKey.EAR}
    assert bench.run(0.079) == [KeyDown(0, PanelKey.EAR)]
    assert bench.run(0.01) == [KeyUp(3840, PanelKey.EAR)]
    assert bench.panel.down == set()


def test_a_hold_lasts_as_long_as_asked(bench: Bench):
    bench.panel.hold("Take", 2.0)
    assert bench.run(1.99) == [KeyDown(0, PanelKey.TAKE)]
    assert bench.run(0.02) == [KeyUp(2 * RATE, PanelKey.TAKE)]


def test_gestures_with_the_knob(bench: Bench):
    bench.panel.hold_turn("Pulse", 2)
    assert bench.run(1) == [
        KeyDown(0, PanelKey.PULSE),
        KnobTurn(2880, 1),
        KnobTurn(5760, 1),
        KeyUp(8640, PanelKey.PULSE),
    ]
    bench.panel.push_turn(-1)
    bench.panel.push()
    second = RATE
    assert bench.run(1) == [
        KnobDown(second),
        KnobDown(second),
        KnobTurn(second + 2880, -1),
        KnobUp(second + 3840),
        KnobUp(second + 5760),
    ]
    bench.panel.turn_slowly(2)
    bench.panel.pedal("right")
    assert bench.run(1) == [
        PedalDown(2 * second, Pedal.RIGHT),
        KnobTurn(2 * second, 1),
        KnobTurn(2 * second + 2880, 1),
        PedalUp(2 * second + 3840, Pedal.RIGHT),
    ]


def test_nothing_is_posted_before_start_and_after_stop():
    events: list[Event] = []
    panel = SimulatedPanel()
    panel.tap("Drone")
    panel.start(events.append, lambda: 0)
    panel.pump(RATE)
    assert events == []
    panel.hold("Drone")
    panel.stop()
    panel.stop()
    panel.pump(9 * RATE)
    panel.press("Drone")
    assert events == [KeyDown(0, PanelKey.DRONE)]


def test_names_are_found_in_any_case_and_unknown_ones_listed():
    assert panel_key("COMPARE") is PanelKey.COMPARE
    assert pedal_named("Right") is Pedal.RIGHT
    with pytest.raises(UnknownNameError, match=r"Drone, Compare, Pulse, Ear, Take, Replay.*Did you mean 'Replay'"):
        panel_key("Reply")
    with pytest.raises(UnknownNameError, match="left, right"):
        pedal_named("middle")
