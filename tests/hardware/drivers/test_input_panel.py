"""Number pads, presenters and knobs that come and go; the contract of panels is in tests/contract."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from firmware.events import Event, KeyDown, KeyUp, KnobTurn, PanelKey, Pedal, PedalDown, PedalUp
from hardware.drivers.input_panel import InputPanel, KernelInputs
from hardware.simulated.input_device import CLICKER, ENCODER, MOUSE, SimulatedInput, SimulatedInputs

DRONE, COMPARE, PAGE_DOWN = 71, 72, 109


class Bench:
    """A panel on simulated inputs that looks around fast."""

    def __init__(self) -> None:
        self.inputs = SimulatedInputs()
        self.panel = InputPanel(lambda: self.inputs, look=0.01)
        self.posted: queue.SimpleQueue[Event] = queue.SimpleQueue()

    def start(self) -> None:
        self.panel.start(self.posted.put, lambda: 7)

    def next(self) -> Event:
        return self.posted.get(timeout=5.0)

    def nothing_more(self) -> bool:
        time.sleep(0.03)
        return self.posted.empty()

    def until(self, true: Callable[[], object]) -> None:
        deadline = time.monotonic() + 5.0
        while not true():
            assert time.monotonic() < deadline, self.panel.trouble
            time.sleep(0.002)


@pytest.fixture
def bench() -> Iterator[Bench]:
    made = Bench()
    yield made
    made.panel.stop()


def test_a_pad_that_is_plugged_in_later_works(bench: Bench) -> None:
    bench.start()
    pad = SimulatedInput(name="pad")
    bench.inputs.plug(pad)
    bench.until(lambda: bench.panel.names)
    pad.press(DRONE)
    assert bench.next() == KeyDown(7, PanelKey.DRONE)
    assert bench.panel.names == ("number pad: pad",)
    assert pad.grabbed


def test_one_that_is_pulled_out_with_keys_down_leaves_nothing_held(bench: Bench) -> None:
    pad = SimulatedInput()
    path = bench.inputs.plug(pad)
    bench.start()
    pad.press(DRONE)
    pad.press(COMPARE)
    assert {bench.next(), bench.next()} == {KeyDown(7, PanelKey.DRONE), KeyDown(7, PanelKey.COMPARE)}
    bench.inputs.unplug(path)
    assert {bench.next(), bench.next()} == {KeyUp(7, PanelKey.DRONE), KeyUp(7, PanelKey.COMPARE)}
    bench.until(lambda: pad.closed)
    assert bench.panel.names == ()
    assert "unplugged" in bench.panel.trouble


def test_plugged_in_again_under_the_same_path_it_works_again(bench: Bench) -> None:
    path = bench.inputs.plug(SimulatedInput())
    bench.start()
    for _ in range(5):
        bench.inputs.unplug(path)
        bench.until(lambda: not bench.panel.names)
        pad = SimulatedInput()
        bench.inputs.plug(pad, path)
        bench.until(lambda: bench.panel.names)
        pad.press(DRONE)
        pad.release(DRONE)
        assert [type(bench.next()), type(bench.next())] == [KeyDown, KeyUp]
    assert bench.nothing_more()


def test_a_presenter_is_the_pedals(bench: Bench) -> None:
    clicker = SimulatedInput(CLICKER)
    bench.inputs.plug(clicker)
    bench.start()
    for code in (48, PAGE_DOWN):  # B, which would darken a picture on a wall, does nothing
        clicker.press(code)
        clicker.release(code)
    assert [bench.next(), bench.next()] == [PedalDown(7, Pedal.RIGHT), PedalUp(7, Pedal.RIGHT)]
    assert bench.nothing_more()


def test_the_kernels_knob_is_the_knob(bench: Bench) -> None:
    knob = SimulatedInput(ENCODER)
    bench.inputs.plug(knob)
    assert bench.panel.has_knob
    knob = SimulatedInput(ENCODER)
    bench.inputs.plug(knob, "/dev/input/event1")
    bench.start()
    assert bench.panel.has_knob
    knob.turn(-2)
    assert bench.next() == KnobTurn(7, -2)


def test_there_is_no_kernels_knob_where_there_is_a_pad_or_nothing(bench: Bench) -> None:
    assert not bench.panel.has_knob
    bench.inputs.plug(SimulatedInput())
    assert not bench.panel.has_knob


def test_a_mouse_is_opened_once_let_go_and_passed_over(bench: Bench) -> None:
    mouse = SimulatedInput(MOUSE)
    path = bench.inputs.plug(mouse)
    bench.start()
    bench.until(lambda: mouse.closed)
    assert not mouse.grabbed
    pad = SimulatedInput()
    bench.inputs.unplug(path)
    bench.inputs.plug(pad, path)  # another device under its path is looked at anew
    bench.until(lambda: bench.panel.names)
    pad.press(DRONE)
    assert bench.next() == KeyDown(7, PanelKey.DRONE)


def test_a_device_that_may_not_be_read_yet_is_tried_again(bench: Bench) -> None:
    pad = SimulatedInput()
    path = bench.inputs.plug(pad)
    bench.inputs.denied.add(path)
    bench.start()
    assert "Permission denied" in bench.panel.trouble
    bench.inputs.denied.clear()
    bench.until(lambda: bench.panel.names)
    assert bench.panel.trouble == ""


def test_a_device_that_another_program_has_is_let_be_and_said(bench: Bench) -> None:
    pad = SimulatedInput()
    pad.taken = True
    bench.inputs.plug(pad)
    bench.start()
    assert "another program" in bench.panel.trouble
    assert pad.closed
    assert bench.panel.names == ()


def test_a_queue_that_ran_over_lets_go_of_what_is_up_by_now(bench: Bench) -> None:
    pad = SimulatedInput()
    bench.inputs.plug(pad)
    bench.start()
    pad.press(DRONE)
    assert bench.next() == KeyDown(7, PanelKey.DRONE)
    pad.down.clear()
    pad.overrun()
    assert bench.next() == KeyUp(7, PanelKey.DRONE)


def test_a_machine_without_evdev_says_so_and_the_panel_stays_silent() -> None:
    def missing() -> SimulatedInputs:
        raise ImportError("no module named evdev")

    panel = InputPanel(missing, look=0.01)
    panel.start(lambda _event: None, int)
    time.sleep(0.03)
    panel.stop()
    assert "evdev" in panel.trouble
    assert not panel.has_knob


def test_the_kernels_devices_are_listed_where_there_are_none(tmp_path: Path) -> None:
    (tmp_path / "event3").touch()
    (tmp_path / "mouse0").touch()
    assert list(KernelInputs(tmp_path).there()) == [str(tmp_path / "event3")]
    with pytest.raises(OSError, match="ioctl"):
        KernelInputs(tmp_path).open(str(tmp_path / "event3"))
    assert KernelInputs(tmp_path / "none").there() == {}
