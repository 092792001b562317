"""A replay shows of each bar what was heard when it was played."""

from __future__ import annotations

from firmware.events import Event, PulseChanged
from firmware.heard_events import BarTimed
from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.parts.part import Start, address_of
from firmware.parts.replay_timing import MOST_BARS, REPLAY_TIMING, ReplayTimingState
from firmware.passage import Passage
from firmware.take_events import ReplayStarted, ReplayStopped
from firmware.units import RATE

PROGRAM = Program(curve=Curve(30.0))
"""Four beats a bar at 120 a minute: a bar lasts 2 s."""


def run(*events: Event, state: ReplayTimingState | None = None) -> ReplayTimingState:
    state = state or REPLAY_TIMING.start(Start())
    for event in events:
        state, follow = REPLAY_TIMING.handlers[address_of(event)](state, event)
        assert follow == ()
    return state


def bar(at: float, number: int, late: float) -> BarTimed:
    return BarTimed(round(at * RATE), number, late, 3.0, ())


PLAYED = (
    PulseChanged(10 * RATE, 1, PROGRAM, 10.0 * RATE),
    bar(13.2, 1, 5.0),
    bar(15.2, 2, 12.0),
    PulseChanged(16 * RATE, 1, None, 10.0 * RATE),
    bar(17.2, 3, -4.0),
)


def test_the_bar_of_that_time_is_shown_while_it_is_replayed() -> None:
    # the take began on second 9; bar 2 lasts from second 12 to 14 of the clock, 3 to 5 of the take
    state = run(*PLAYED, ReplayStarted(100 * RATE, 1, 9 * RATE, Passage()))
    show = REPLAY_TIMING.show
    assert show(state, 100 * RATE) == {}
    assert show(state, 103 * RATE - 1)["replay_bar"] == 1
    assert show(state, 103 * RATE) == {"replay_bar": 2, "replay_late_ms": 12.0}
    assert show(state, 106 * RATE) == {"replay_bar": 3, "replay_late_ms": -4.0}
    assert show(state, 108 * RATE) == {}
    assert show(run(ReplayStopped(104 * RATE), state=state), 104 * RATE) == {}


def test_slower_and_in_a_loop_it_is_the_bar_that_is_heard() -> None:
    passage = Passage(3 * RATE, 0.5, 3 * RATE, 5 * RATE)
    state = run(*PLAYED, ReplayStarted(100 * RATE, 1, 9 * RATE, passage))
    assert {REPLAY_TIMING.show(state, at * RATE)["replay_bar"] for at in range(100, 120)} == {2}


def test_the_rest_of_a_pulse_belongs_to_it_although_another_has_begun() -> None:
    faster = Program(curve=Curve(60.0))
    state = run(*PLAYED, PulseChanged(20 * RATE, 2, faster, 20.0 * RATE), bar(20.0, 4, 7.0), bar(23.2, 1, 1.0))
    spans = [(one.first / RATE, one.end / RATE, one.number) for one in state.bars[-2:]]
    assert spans == [(16.0, 18.0, 4), (20.0, 21.0, 1)]


def test_without_a_pulse_there_is_nothing_and_hours_do_not_grow() -> None:
    assert run(bar(3.0, 1, 2.0)).bars == ()
    state = run(PLAYED[0])
    for number in range(1, MOST_BARS + 3):
        state = run(bar(2.0 * number, number, 0.0), state=state)
    assert len(state.bars) == MOST_BARS
    assert state.bars[-1].number == MOST_BARS + 2
