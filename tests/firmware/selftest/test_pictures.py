"""What the OLED shows while the self-test runs: everything fits, and the test pictures tell up from down."""

from __future__ import annotations

import numpy as np

from firmware.screens.fonts import SMALL
from firmware.screens.frame import HEIGHT, WIDTH, Frame
from firmware.selftest.ask import Ask, Do
from firmware.selftest.finding import found
from firmware.selftest.pictures import ALL_LIT, lit_turn, paint, picture, verdict
from hardware.selftest import run_selftest
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest
from tests.firmware.selftest.benches import BENCH

ASKS: tuple[Ask, ...] = tuple(
    one.ask for one in run_selftest(BENCH, SimulatedBoxUnderTest(BENCH, good_box(BENCH)), frozenset({"sound"})).done
)
LOOK = next(ask for ask in ASKS if ask.do is Do.LOOK)


def dots(frame: Frame) -> np.ndarray:
    """The picture as an array of 64 x 128."""
    return np.unpackbits(np.frombuffer(frame.bits, dtype=np.uint8)).reshape(HEIGHT, WIDTH)


def test_every_prompt_of_a_whole_test_fits() -> None:
    assert len(ASKS) > 15
    for ask in ASKS:
        assert paint(ask).cuts == [], ask
        assert {letter for letter in ask.text + "".join(ask.choices) if letter != " "} <= set(SMALL.glyphs)


def test_a_question_that_no_key_can_answer_says_so_and_fits() -> None:
    assert paint(Ask("screen", Do.LOOK, "The screen shows", choices=("a", "b"))).cuts == []


def test_the_test_picture_has_its_rim_and_differs_from_itself_upside_down_and_shifted() -> None:
    shown = dots(picture(LOOK))
    assert shown[0, 1:-1].all()
    assert shown[-1, 1:-1].all()
    assert shown[1:-1, 0].all()
    assert shown[1:-1, -1].all()
    assert (shown != shown[::-1, ::-1]).sum() > 100
    assert (shown != np.roll(shown, 2, axis=1)).sum() > 100


def test_dots_and_question_take_turns() -> None:
    ask = Ask("screen", Do.LOOK_ALL_LIT, "Now it is lit", choices=("every dot is lit",), key="key Drone")
    assert [lit_turn(seconds) for seconds in (0.0, 1.9, 2.1, 4.1)] == [False, False, True, False]
    assert picture(ask, lit=True) == ALL_LIT
    assert picture(ask) != ALL_LIT
    assert dots(ALL_LIT).all()


def test_at_the_end_each_fault_has_its_turn() -> None:
    two = (found("mic-clips"), found("hot", celsius=83))
    assert verdict(two, 0) == verdict(two, 2) != verdict(two, 1)
    assert dots(verdict(())).any()
