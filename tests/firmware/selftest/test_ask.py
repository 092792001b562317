"""When a wish is fulfilled, and when patience runs out."""

from __future__ import annotations

import pytest

from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn
from firmware.selftest.ask import FULFILLED, Ask, Do, over
from firmware.selftest.signals import BusScanned
from firmware.units import RATE
from tests.firmware.selftest.benches import edges, evidence

NONE: frozenset[str] = frozenset()


def is_over(do: Do, at: float, *events: object, closed: frozenset[str] = NONE, **more: object) -> bool:
    """Whether a wish that began at 0 is over at some second."""
    return over(Ask("x", do, patience=10.0, **more), tuple(events), closed, 0, round(at * RATE))


def test_every_wish_has_its_rule() -> None:
    assert set(FULFILLED) == set(Do)


@pytest.mark.parametrize("do", Do)
def test_patience_ends_every_wish(do: Do) -> None:
    assert not is_over(do, 9.9)
    assert is_over(do, 10.0)


def test_a_press_is_over_when_it_came_up_and_kept_still() -> None:
    assert not is_over(Do.PRESS, 2.0, *edges("x", 1.0))
    assert not is_over(Do.PRESS, 2.1, *edges("x", 1.0, 2.0))
    assert is_over(Do.PRESS, 2.3, *edges("x", 1.0, 2.0))


def test_a_spark_of_another_line_does_not_hold_a_press_up() -> None:
    assert is_over(Do.PRESS, 2.4, *edges("x", 1.0, 2.0), *edges("y", 2.3, 2.301))


def test_nothing_ends_within_a_spark() -> None:
    assert not is_over(Do.PRESS, 10.0, *edges("y", 9.999))
    assert is_over(Do.PRESS, 11.0, *edges("y", 10.999))


def test_a_step_is_over_as_soon_as_the_pedal_keeps_still() -> None:
    assert is_over(Do.STEP_ON, 1.4, *edges("x", 1.0))
    assert is_over(Do.LET_GO, 1.4, *edges("x", 1.0, closed=False), closed=frozenset({"x"}))


def test_a_turn_may_pause_for_a_second() -> None:
    assert not is_over(Do.TURN_LEFT, 2.0, *edges("x", 1.0, 1.1))
    assert is_over(Do.TURN_LEFT, 2.5, *edges("x", 1.0, 1.1))


def test_a_note_is_over_when_every_key_came_up_or_the_keyboard_went() -> None:
    assert not is_over(Do.PLAY_NOTE, 2.0, NoteOn(48_000, 60))
    assert not is_over(Do.PLAY_NOTE, 2.0, NoteOn(48_000, 60), NoteOn(48_000, 64), NoteOff(90_000, 64))
    assert is_over(Do.PLAY_NOTE, 2.0, NoteOn(48_000, 60), NoteOff(90_000, 60))
    assert is_over(Do.PLAY_NOTE, 2.0, NoteOn(48_000, 60), KeyboardChanged(90_000, present=False))


def test_a_question_waits_for_the_whole_count_on_the_key_it_named() -> None:
    more = {"choices": ("one", "two"), "key": "x", "heard": "y"}
    assert not is_over(Do.LOOK, 2.0, *edges("y", 1.0, 1.1), **more)
    assert is_over(Do.LOOK, 2.5, *edges("y", 1.0, 1.1), **more)
    assert not is_over(Do.LOOK, 2.5, *edges("x", 1.0, 1.1), **more)


def test_a_measurement_is_over_when_it_is_told() -> None:
    assert not is_over(Do.SCAN, 1.0)
    assert is_over(Do.SCAN, 1.0, BusScanned(0, ()))


@pytest.mark.parametrize(("times", "answer"), [((1.0, 1.1), 1), ((1.0, 1.1, 1.4, 1.5), 2), ((), 0)])
def test_presses_are_the_answer(times: tuple[float, ...], answer: int) -> None:
    one = evidence(Do.LOOK, *edges("y", *times), choices=("one", "two"), heard="y")
    assert one.answer == answer


def test_more_presses_than_choices_are_no_answer() -> None:
    one = evidence(Do.LOOK, *edges("y", 1.0, 1.1, 1.4, 1.5, 1.8, 1.9), choices=("one", "two"), heard="y")
    assert one.answer == 0
    assert evidence(Do.PRESS, *edges("y", 1.0, 1.1), heard="y").answer == 0
