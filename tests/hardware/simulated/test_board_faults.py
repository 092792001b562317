"""Every fault that can be built in is named by the self-test, and a good box is named nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firmware.errors import UnknownNameError
from firmware.selftest.kinds import KINDS
from firmware.selftest.walk import Walk
from hardware.board.table import VARIANTS, own_board
from hardware.selftest import bench_of, run_selftest
from hardware.simulated.board_faults import FAULTS, BoardFault, fault_named
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest

BOARDS = {name: own_board(name) for name in VARIANTS}
WITH_CLOCK = replace(BOARDS["A"], clock=replace(BOARDS["A"].clock, fitted=True))
BENCH = bench_of(WITH_CLOCK)


def walked(*faults: BoardFault, skip: frozenset[str] = frozenset()) -> Walk:
    """The self-test of a box with some faults."""
    box = good_box(BENCH)
    for fault in faults:
        fault.change(box)
    return run_selftest(BENCH, SimulatedBoxUnderTest(BENCH, box), skip)


def test_there_are_enough_of_them() -> None:
    assert len(FAULTS) >= 40
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)


def test_every_kind_of_finding_has_a_fault_that_brings_it_about() -> None:
    # These two come of a builder or a stick that does not answer; test_steps.py brings them about.
    assert {kind.code for kind in KINDS} - {fault.code for fault in FAULTS} == {"unanswered", "stick-error"}


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_is_named_and_nothing_else(fault: BoardFault) -> None:
    skip = frozenset() if "sound" in fault.touches else frozenset({"sound"})
    (one,) = walked(fault, skip=skip).findings
    assert one.code == fault.code
    assert fault.values.items() <= dict(one.values).items()


@pytest.mark.parametrize("variant", VARIANTS)
def test_a_good_box_of_either_variant_is_named_nothing(variant: str) -> None:
    bench = bench_of(BOARDS[variant])
    assert run_selftest(bench, SimulatedBoxUnderTest(bench, good_box(bench))).findings == ()


def test_a_good_box_with_closed_pedals_is_named_nothing() -> None:
    box = good_box(BENCH)
    box.wiring.closed_up |= {"left pedal", "right pedal"}
    assert run_selftest(BENCH, SimulatedBoxUnderTest(BENCH, box), frozenset({"sound"})).findings == ()


def test_with_nobody_there_a_good_box_is_not_called_good() -> None:
    box = SimulatedBoxUnderTest(BENCH, good_box(BENCH), builder=False)
    codes = [one.code for one in run_selftest(BENCH, box, frozenset({"sound"})).findings]
    assert codes.count("silent") == 10
    assert codes.count("unanswered") == 2


def test_an_unknown_fault_is_told_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="led-reversed"):
        fault_named("led-revers")
