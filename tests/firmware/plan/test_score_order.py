"""The order of playing: repeats, endings, da capo, dal segno, fine, coda; each case is common practice."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.plan.score import Turn
from firmware.plan.score_order import MOST_PLAYED, played

PLAIN = Turn()
OPEN = Turn(forward=True)
BACK = Turn(backward=2)


def ending(*numbers: int, begins: bool = True, backward: int = 0) -> Turn:
    return Turn(endings=numbers, ending_begins=begins, backward=backward)


@pytest.mark.parametrize(
    ("turns", "order"),
    [
        ((PLAIN,) * 3, "123"),
        ((OPEN, BACK, PLAIN), "12123"),
        ((PLAIN, BACK, PLAIN), "12123"),
        ((PLAIN, OPEN, BACK, PLAIN), "123234"),
        ((PLAIN, BACK, PLAIN, BACK), "12123434"),
        ((replace(OPEN, backward=3),), "111"),
        ((PLAIN, ending(1, backward=2), ending(2), PLAIN), "12134"),
        ((PLAIN, ending(1), ending(1, begins=False, backward=2), ending(2), PLAIN), "1231" + "45"),
        ((PLAIN, ending(1, 2, backward=2), ending(3)), "1212" + "13"),
        ((PLAIN, ending(1, backward=2), PLAIN), "1213"),
        ((PLAIN, ending(1, backward=2), ending(2, backward=2), PLAIN), "12134"),
        ((PLAIN, ending(1, backward=2), ending(2), PLAIN, BACK), "1213454" + "5"),
        ((PLAIN, ending(1, backward=2), replace(ending(2), forward=True), BACK), "1213434"),
        ((PLAIN, Turn(fine=True), PLAIN, Turn(da_capo=True)), "123412"),
        ((PLAIN, PLAIN, Turn(da_capo=True)), "123123"),
        ((OPEN, BACK, Turn(fine=True), Turn(da_capo=True), PLAIN), "1212341235"),
        ((PLAIN, Turn(segno=True), Turn(fine=True), Turn(dal_segno=True)), "123423"),
        ((PLAIN, Turn(to_coda=True), PLAIN, Turn(da_capo=True), Turn(coda=True), PLAIN), "12341256"),
        ((PLAIN, Turn(segno=True, to_coda=True), Turn(dal_segno=True), Turn(coda=True)), "12324"),
        ((PLAIN, ending(1, backward=2), ending(2), Turn(da_capo=True)), "1213" + "4" + "134"),
        ((PLAIN, Turn(final=True), PLAIN, BACK), "123434"),
        ((PLAIN, Turn(final=True), PLAIN, Turn(da_capo=True)), "123434"),
        ((PLAIN, Turn(final=True), Turn(trio=True), Turn(da_capo=True), PLAIN), "1234125"),
        ((PLAIN, Turn(fine=True, final=True), PLAIN, Turn(da_capo=True)), "123412"),
        ((Turn(dal_segno=True), PLAIN), "12"),
        ((PLAIN, Turn(da_capo=True, to_coda=True)), "1212"),
    ],
)
def test_orders(turns: tuple[Turn, ...], order: str) -> None:
    assert "".join(str(bar + 1) for bar in played(turns)) == order


def test_repeats_without_end_leave_the_bars_as_printed() -> None:
    turns = (PLAIN,) * (MOST_PLAYED // 2) + (Turn(backward=8),)
    assert played(turns) == tuple(range(len(turns)))


TURNS = st.builds(
    Turn,
    forward=st.booleans(),
    backward=st.sampled_from([0, 0, 2, 3]),
    endings=st.sampled_from([(), (), (1,), (2,), (1, 3)]),
    ending_begins=st.booleans(),
    segno=st.booleans(),
    coda=st.booleans(),
    to_coda=st.booleans(),
    fine=st.booleans(),
    da_capo=st.booleans(),
    dal_segno=st.booleans(),
    trio=st.booleans(),
    final=st.booleans(),
)


@given(st.lists(TURNS, min_size=1, max_size=12).map(tuple))
def test_any_signs_come_to_an_end(turns: tuple[Turn, ...]) -> None:
    order = played(turns)
    assert set(order) <= set(range(len(turns)))
    assert len(order) <= MOST_PLAYED
