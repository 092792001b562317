"""The pulse tells the other parts by which program it runs, once for each change, and when it stops."""

from __future__ import annotations

from firmware.box import Box
from firmware.commands import AppendLine
from firmware.events import Adjusted, PulseChanged, Tick, Wish, Wished
from firmware.parts.part import Follow, Part, Start
from firmware.parts.pulse import PULSE
from firmware.units import RATE


def told(follow: tuple[Follow, ...]) -> list[PulseChanged]:
    return [one for one in follow if isinstance(one, PulseChanged)]


def test_start_change_and_stop_are_told_at_the_next_tick():
    part: Part = PULSE
    state = part.start(Start())
    state, follow = part.handlers[Tick](state, Tick(100))
    assert told(follow) == []
    state, _ = part.handlers[Wish.PULSE_TOGGLE](state, Wished(1000, Wish.PULSE_TOGGLE))
    state, follow = part.handlers[Tick](state, Tick(2400))
    (begun,) = told(follow)
    assert (begun.run, begun.start) == (state.run, 1000)
    assert begun.program is state.program
    state, follow = part.handlers[Tick](state, Tick(4800))
    assert told(follow) == []
    state, _ = part.handlers[Adjusted](state, Adjusted(5000, "tempo", 3))
    state, follow = part.handlers[Tick](state, Tick(7200))
    (changed,) = told(follow)
    assert changed.run == begun.run
    assert changed.program is not begun.program
    state, _ = part.handlers[Wish.PULSE_TOGGLE](state, Wished(8000, Wish.PULSE_TOGGLE))
    _, follow = part.handlers[Tick](state, Tick(9600))
    assert [one.program for one in told(follow)] == [None]


def test_no_line_of_the_log_says_so():
    box = Box(Start(stick=True))
    box.handle(Wished(1000, Wish.PULSE_TOGGLE))
    lines = [one for at in range(2400, RATE, 2400) for one in box.handle(Tick(at)) if isinstance(one, AppendLine)]
    assert not any("program" in line.line for line in lines)
