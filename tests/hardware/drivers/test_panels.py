"""Several panels as one."""

from __future__ import annotations

import pytest

from firmware.errors import DeviceError
from firmware.events import Event, KeyDown, KeyUp, KnobTurn, PanelKey, Pedal, PedalDown, PedalUp
from firmware.ports import Now, Post
from hardware.drivers.panels import Panels
from hardware.simulated.panel import SimulatedPanel


class NoPins(SimulatedPanel):
    def start(self, post: Post, now: Now) -> None:  # noqa: ARG002 - the contract's signature
        raise DeviceError("pins", "of this machine", "a Raspberry Pi is needed")


def test_a_key_that_is_down_on_two_panels_is_pressed_once_and_released_once() -> None:
    one, two = SimulatedPanel(), SimulatedPanel()
    posted: list[Event] = []
    Panels(one, two).start(posted.append, lambda: 1)
    one.press("Drone")
    two.press("Drone")
    one.release("Drone")
    assert posted == [KeyDown(1, PanelKey.DRONE)]
    two.release("Drone")
    two.pedal("right")
    two.pump(10**9)
    assert posted[1:3] == [KeyUp(1, PanelKey.DRONE), PedalDown(1, Pedal.RIGHT)]
    assert isinstance(posted[3], PedalUp)


def test_turns_of_both_count() -> None:
    one, two = SimulatedPanel(), SimulatedPanel()
    posted: list[Event] = []
    Panels(one, two).start(posted.append, lambda: 1)
    one.turn(2)
    two.turn(-1)
    assert posted == [KnobTurn(1, 1), KnobTurn(1, 1), KnobTurn(1, -1)]


def test_sample_counts_never_run_backwards_between_panels() -> None:
    one, two = SimulatedPanel(), SimulatedPanel()
    posted: list[Event] = []
    counts = iter([50, 40, 60])
    Panels(one, two).start(posted.append, lambda: next(counts))
    one.turn(1)
    two.turn(1)
    one.turn(1)
    assert [event.at for event in posted] == [50, 50, 60]


def test_a_panel_that_cannot_start_hinders_no_other() -> None:
    good = SimulatedPanel()
    posted: list[Event] = []
    panels = Panels(NoPins(), good)
    with pytest.raises(DeviceError, match="Raspberry Pi"):
        panels.start(posted.append, lambda: 1)
    good.press("Ear")
    assert posted == [KeyDown(1, PanelKey.EAR)]
    panels.stop()
    good.release("Ear")
    assert len(posted) == 1
