"""From what was heard to which wires are wrong."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.selftest.ask import Do
from firmware.selftest.wires import heard_of, wrong_wires
from tests.firmware.selftest.benches import BENCH, edges, evidence, press

PRESSED = tuple(line.name for line in (*BENCH.keys, BENCH.push, BENCH.power))


def heard(**changes: tuple[str, ...]) -> dict[str, frozenset[str]]:
    """What every contact was heard on: its own line, but for the changes."""
    named = {name.replace("_", " "): frozenset(lines) for name, lines in changes.items()}
    return {line.name: frozenset({line.name}) for line in BENCH.lines} | named


def codes(**changes: tuple[str, ...]) -> list[str]:
    """The findings for some changes."""
    return [one.code for one in wrong_wires(BENCH, heard(**changes), frozenset())]


def test_right_wires_give_no_finding() -> None:
    assert codes() == []


@given(st.permutations(PRESSED))
def test_every_permutation_is_named_as_its_rings(order: list[str]) -> None:
    swapped = {name: frozenset({other}) for name, other in zip(PRESSED, order, strict=True)}
    findings = wrong_wires(BENCH, heard() | swapped, frozenset())
    named = " ".join(
        dict(one.values).get("contacts", " ".join(map(str, dict(one.values).values()))) for one in findings
    )
    moved = [name for name, other in zip(PRESSED, order, strict=True) if name != other]
    assert {one.code for one in findings} <= {"swapped", "mixed"}
    for line in BENCH.lines:
        if line.name in moved:
            assert line.spoken in named
    rings, seen = 0, set()
    to = dict(zip(PRESSED, order, strict=True))
    for name in moved:
        if name not in seen:
            rings += 1
            while name not in seen:
                seen.add(name)
                name = to[name]  # noqa: PLW2901 - walks the ring
    assert len(findings) == rings


def test_two_on_one_pin_is_told_of_the_one_that_does_not_belong_there() -> None:
    (one,) = wrong_wires(BENCH, heard(key_Take=("key Replay",)), frozenset())
    assert one.code == "misplaced"
    assert dict(one.values)["place"] == "36"


def test_a_bridge_is_told_once() -> None:
    both = ("key Drone", "key Ear")
    assert codes(key_Drone=both, key_Ear=both) == ["joined"]


def test_silence_is_a_short_when_the_line_was_closed_at_rest() -> None:
    silent = heard(key_Drone=())
    assert [one.code for one in wrong_wires(BENCH, silent, frozenset({"key Drone"}))] == ["stuck"]
    assert [one.code for one in wrong_wires(BENCH, silent, frozenset())] == ["silent"]


@pytest.mark.parametrize(("a", "b", "code"), [((), (), "knob-silent"), ((), ("knob b",), "knob-track")])
def test_tracks_have_words_of_their_own(a: tuple[str, ...], b: tuple[str, ...], code: str) -> None:
    assert codes(knob_a=a, knob_b=b) == [code]


def test_the_last_try_counts_and_untried_contacts_are_left_out() -> None:
    done = (press("key Drone"), press("key Drone", "key Drone"))
    assert heard_of(BENCH, done) == {"key Drone": {"key Drone"}}


def test_a_noisy_line_counts_for_its_own_contact_alone() -> None:
    done = (press("key Drone", "key Drone", "left pedal"), press("left pedal", "left pedal"))
    assert heard_of(BENCH, done, frozenset({"left pedal"})) == {
        "key Drone": {"key Drone"},
        "left pedal": {"left pedal"},
    }


@pytest.mark.parametrize(
    ("lines", "a", "b"),
    [
        (("knob a", "knob b"), {"knob a"}, {"knob b"}),
        (("knob a", "key Ear"), {"knob a"}, {"key Ear"}),
        (("knob b", "key Ear"), {"key Ear"}, {"knob b"}),
        (("knob b",), set(), {"knob b"}),
        (("key Ear", "key Take"), {"key Ear"}, {"key Take"}),
        (("knob a", "knob b", "key Ear"), {"knob a"}, {"knob b", "key Ear"}),
        ((), set(), set()),
    ],
)
def test_what_moves_with_a_turn_is_given_to_the_tracks(lines: tuple[str, ...], a: set[str], b: set[str]) -> None:
    turn = evidence(Do.TURN_RIGHT, *(edge for line in lines for edge in edges(line, 1.0, 1.1)))
    found = heard_of(BENCH, (replace(turn, events=tuple(sorted(turn.events, key=lambda edge: edge.at))),))
    assert (set(found["knob a"]), set(found["knob b"])) == (a, b)
