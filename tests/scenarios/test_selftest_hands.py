"""A good box is named nothing, however its builder presses, turns, bounces and hesitates."""

from __future__ import annotations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from hardware.board.table import own_board
from hardware.selftest import bench_of, run_selftest
from hardware.simulated.builder import Pace
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest

BENCH = bench_of(own_board())
UNHEARD = frozenset({"sound"})


@settings(max_examples=20, deadline=None)
@given(
    bounces=st.lists(st.floats(0.0, 4.5), min_size=12, max_size=12),
    closed=st.sets(st.sampled_from(["left pedal", "right pedal"])),
    reaction=st.floats(0.05, 5.0),
    held=st.floats(0.08, 3.0),
    click=st.floats(0.05, 0.9),
    tap=st.floats(0.05, 0.25),
    between=st.floats(0.15, 0.9),
)
def test_a_good_box_is_named_nothing_by_any_hands(
    bounces: list[float], closed: set[str], reaction: float, held: float, click: float, tap: float, between: float
) -> None:
    box = good_box(BENCH)
    for manners, bounce in zip(box.manners.values(), bounces, strict=True):
        manners.bounce_ms = bounce
    box.wiring.closed_up |= closed
    pace = Pace(reaction=reaction, held=held, click=click, tap=tap, between=between)
    walk = run_selftest(BENCH, SimulatedBoxUnderTest(BENCH, box, pace=pace), UNHEARD)
    assert [one.line for one in walk.findings] == []


@settings(max_examples=12, deadline=None)
@example("key Drone", "key Compare")  # the key that answers the questions later
@given(st.sampled_from([line.name for line in BENCH.keys]), st.sampled_from([line.name for line in BENCH.keys]))
def test_one_wrong_finger_is_forgiven(asked: str, pressed: str) -> None:
    box = SimulatedBoxUnderTest(BENCH, good_box(BENCH), slips={asked: pressed})
    assert [one.line for one in run_selftest(BENCH, box, UNHEARD).findings] == []
