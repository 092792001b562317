"""Two faults at once: both are named, and nothing else, unless they concern the same thing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.board.table import own_board
from hardware.selftest import bench_of, run_selftest
from hardware.simulated.board_faults import FAULTS, BoardFault
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest

BOARD = own_board()
BENCH = bench_of(replace(BOARD, clock=replace(BOARD.clock, fitted=True)))

QUICK = tuple(fault for fault in FAULTS if "sound" not in fault.touches)
"""Faults that are found without the test sound, whose reading takes most of the time."""

SOUND = tuple(fault for fault in FAULTS if "sound" in fault.touches)


def pairs(faults: tuple[BoardFault, ...]) -> Iterator[tuple[BoardFault, BoardFault]]:
    """All pairs that do not concern the same thing."""
    return (pair for pair in combinations(faults, 2) if not pair[0].touches & pair[1].touches)


def named(*faults: BoardFault) -> list[str]:
    """Codes of what is found on a box with some faults, sorted; the slow steps are left out where nothing is wrong."""
    touched = frozenset().union(*(fault.touches for fault in faults))
    skip = frozenset({"sound", "stick"}) - touched
    box = good_box(BENCH)
    for fault in faults:
        fault.change(box)
    walk = run_selftest(BENCH, SimulatedBoxUnderTest(BENCH, box), skip)
    return sorted(one.code for one in walk.findings)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(list(pairs(QUICK))))
def test_both_of_two_faults_are_named(pair: tuple[BoardFault, BoardFault]) -> None:
    assert named(*pair) == sorted(fault.code for fault in pair)


@settings(max_examples=6, deadline=None)
@given(st.sampled_from(SOUND), st.sampled_from(QUICK))
def test_a_fault_of_sound_beside_another_is_named(one: BoardFault, other: BoardFault) -> None:
    assert named(one, other) == sorted((one.code, other.code))


@pytest.mark.long
@pytest.mark.timeout(900)  # 40 s of one core; a busy machine shares it
def test_every_pair_of_faults_is_named() -> None:
    every = list(pairs(QUICK))
    wrong = [(one.name, other.name) for one, other in every if named(one, other) != sorted((one.code, other.code))]
    assert wrong == []
    assert len(every) > 1000
