"""One light: ready, taking, in trouble, off."""

from __future__ import annotations

import pytest

from firmware.commands import Command, Light
from firmware.events import Event, Fault, PowerDown, SwitchedOn
from firmware.lamp import Lamp
from firmware.parts.lamp import LAMP
from firmware.parts.part import Start, address_of
from firmware.take_events import StickChanged, TakeStarted, TakeStopped

TAKE, STOP = TakeStarted(5, 1, 0), TakeStopped(9, 1, 1.0, ())
IN = StickChanged(2, present=True, free_bytes=9)
LOST, BACK = Fault(6, "sound-lost"), Fault(7, "sound-back")


def lights(*events: Event) -> list[Lamp]:
    state = LAMP.start(Start())
    shown: list[Command] = []
    for event in (SwitchedOn(0), *events):
        state, follow = LAMP.handlers[address_of(event)](state, event)
        shown += follow
    assert all(isinstance(one, Light) for one in shown)
    return [one.lamp for one in shown]


@pytest.mark.parametrize(
    ("events", "after"),
    [
        ((), []),
        ((TAKE,), [Lamp.TAKING]),
        ((TAKE, STOP), [Lamp.TAKING, Lamp.READY]),
        ((LOST,), [Lamp.TROUBLE]),
        ((LOST, BACK), [Lamp.TROUBLE, Lamp.READY]),
        ((TAKE, LOST, BACK, STOP), [Lamp.TAKING, Lamp.TROUBLE, Lamp.TAKING, Lamp.READY]),
        ((LOST, TAKE, STOP), [Lamp.TROUBLE]),
        ((Fault(1, "setting-bad"),), []),
        ((StickChanged(1, present=False, why="stick-out"),), []),
        ((StickChanged(1, present=False, why="stick-released"),), []),
        ((StickChanged(1, present=False, why="stick-unknown"), IN), [Lamp.TROUBLE, Lamp.READY]),
        ((StickChanged(1, present=True, why="stick-read-only"),), [Lamp.TROUBLE]),
        ((Fault(1, "stick-full"), StickChanged(2, present=True)), [Lamp.TROUBLE]),
        ((Fault(1, "stick-full"), StickChanged(2, present=False, why="stick-out")), [Lamp.TROUBLE, Lamp.READY]),
        ((TAKE, PowerDown(9)), [Lamp.TAKING, Lamp.OFF]),
    ],
)
def test_the_light_after(events: tuple[Event, ...], after: list[Lamp]) -> None:
    assert lights(*events) == [Lamp.READY, *after]


def test_it_says_nothing_about_sound_or_picture() -> None:
    assert LAMP.show(LAMP.start(Start()), 0) == {}
