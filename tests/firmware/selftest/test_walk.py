"""The self-test as a state machine: it always ends, whatever it is told."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.selftest.ask import Do
from firmware.selftest.signals import (
    BusScanned,
    ClockRead,
    LineChanged,
    LinesProbed,
    Passed,
    StickMeasured,
    SupplyRead,
)
from firmware.selftest.steps import STEPS
from firmware.selftest.walk import begin, handle
from firmware.units import RATE
from tests.firmware.selftest.benches import BENCH, probed

LINES = [line.name for line in BENCH.lines]
NO_SOUND = frozenset({"sound"})

SIGNALS = st.one_of(
    st.builds(LineChanged, st.just(0), st.sampled_from([*LINES, "another"]), st.booleans()),
    st.just(LinesProbed(0, ())),
    st.just(probed(key_Drone=(False, False), left_pedal=(True, False))),
    st.builds(
        BusScanned, st.just(0), st.lists(st.integers(0, 127), max_size=120).map(tuple), st.floats(0, 2), st.text()
    ),
    st.builds(
        StickMeasured,
        st.just(0),
        st.sampled_from(["", "stick-out", "odd"]),
        st.just(0),
        st.floats(0, 9),
        st.floats(0, 9),
    ),
    st.builds(SupplyRead, st.just(0), st.booleans(), st.none(), st.floats(0, 99)),
    st.builds(ClockRead, st.just(0), st.booleans(), st.booleans()),
)


def test_it_begins_with_hands_off_and_knows_its_steps() -> None:
    walk = begin(BENCH)
    assert walk.ask is not None
    assert walk.ask.do is Do.HANDS_OFF
    assert walk.names == tuple(step.name for step in STEPS)
    assert not walk.over


def test_with_nobody_there_it_ends_by_itself_and_names_every_contact() -> None:
    walk, at = begin(BENCH, NO_SOUND), 0
    while not walk.over:
        at += RATE // 10
        walk = handle(walk, Passed(at))
        assert at < 1000 * RATE
    spoken = {dict(one.values).get("contact") for one in walk.findings if one.code == "silent"}
    assert spoken == {line.spoken for line in BENCH.lines} - {"track A", "track B"}
    assert "knob-silent" in {one.code for one in walk.findings}
    assert handle(walk, Passed(at + 1)) is walk


def test_the_same_wish_stays_the_same_object() -> None:
    walk = begin(BENCH)
    assert handle(walk, Passed(10)).ask is walk.ask


def test_steps_can_be_left_out() -> None:
    walk = begin(BENCH, frozenset(step.name for step in STEPS))
    assert walk.over
    assert walk.findings == ()
    assert begin(replace(BENCH, clock=None), frozenset({"rest"})).names[0] == "contacts"


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(SIGNALS, st.integers(1, RATE)), max_size=60))
def test_no_signals_at_all_make_it_crash(signals: list[tuple[object, int]]) -> None:
    walk, at = begin(BENCH, NO_SOUND), 0
    for signal, after in signals:
        at += after
        walk = handle(walk, replace(signal, at=at))
    while not walk.over:
        at += RATE
        walk = handle(walk, Passed(at))
    assert all(one.line for one in walk.findings)


@pytest.mark.parametrize("name", [step.name for step in STEPS])
def test_each_step_can_stand_alone(name: str) -> None:
    walk, at = begin(BENCH, frozenset(step.name for step in STEPS if step.name != name)), 0
    while not walk.over:
        at += RATE
        walk = handle(walk, Passed(at))
    assert walk.names == (name,)
