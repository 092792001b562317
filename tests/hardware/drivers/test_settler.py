"""The settler with a clock that a test turns: order, times, and what is forgotten."""

from __future__ import annotations

from dataclasses import dataclass, field

from firmware.events import Event, KnobDown, KnobTurn, KnobUp, Pedal, PedalDown, PedalUp
from hardware.drivers.settler import Settler


@dataclass
class Clock:
    """Seconds that a test sets, and the sample count of that time."""

    seconds: float = 0.0
    posted: list[Event] = field(default_factory=list)

    def time(self) -> float:
        return self.seconds

    def now(self) -> int:
        return round(self.seconds * 48_000)


def settler_of(clock: Clock) -> Settler:
    return Settler(clock.posted.append, clock.now, clock.time)


def left_down(at: int) -> Event:
    return PedalDown(at, Pedal.LEFT)


def left_up(at: int) -> Event:
    return PedalUp(at, Pedal.LEFT)


def test_a_press_is_certain_only_after_its_own_settling_time() -> None:
    clock = Clock()
    settler = settler_of(clock)
    fast = settler.add(0.005, KnobDown, KnobUp, closed=False)
    slow = settler.add(0.010, left_down, left_up, closed=False)
    settler.edge(fast, closed=True)
    settler.edge(slow, closed=True)
    clock.seconds = 0.004
    assert settler.certain() == []
    clock.seconds = 0.006
    assert settler.certain() == [KnobDown(0)]
    clock.seconds = 0.011
    assert settler.certain() == [left_down(0)]


def test_events_come_in_the_order_of_their_samples() -> None:
    clock = Clock()
    settler = settler_of(clock)
    push = settler.add(0.005, KnobDown, KnobUp, closed=False)
    settler.edge(push, closed=True)
    clock.seconds = 0.002
    settler.turn(1)
    clock.seconds = 0.006
    assert settler.certain() == [KnobDown(0), KnobTurn(96, 1)]


def test_an_edge_that_changes_nothing_does_not_begin_to_settle() -> None:
    clock = Clock()
    settler = settler_of(clock)
    push = settler.add(0.005, KnobDown, KnobUp, closed=False)
    settler.edge(push, closed=False)
    clock.seconds = 1.0
    assert settler.certain() == []


def test_a_jammed_contact_says_nothing_until_it_was_open_once() -> None:
    clock = Clock()
    settler = settler_of(clock)
    push = settler.add(0.005, KnobDown, KnobUp, closed=True)
    settler.edge(push, closed=False)
    clock.seconds = 1.0
    assert settler.certain() == []
    settler.edge(push, closed=True)
    clock.seconds = 2.0
    assert settler.certain() == [KnobDown(48_000)]


def test_turns_that_wait_become_one_and_none_is_lost() -> None:
    clock = Clock()
    settler = settler_of(clock)
    for _ in range(1000):
        settler.turn(1)
        clock.seconds += 0.001
    settler.turn(-1)
    assert settler.certain() == [KnobTurn(0, 999)]
    assert settler.certain() == []


def test_a_turn_there_and_back_is_nothing() -> None:
    settler = settler_of(Clock())
    settler.turn(2)
    settler.turn(-2)
    assert settler.certain() == []


def test_its_thread_posts_and_what_waits_at_the_stop_still_goes_out() -> None:
    clock = Clock()
    settler = settler_of(clock)
    settler.start()
    for _ in range(5):
        settler.turn(1)
    settler.stop()
    assert sum(event.steps for event in clock.posted) == 5


def test_stopping_before_the_start_does_nothing() -> None:
    settler_of(Clock()).stop()
