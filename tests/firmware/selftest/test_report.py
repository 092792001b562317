"""The report: facts, faults with what to do, and what was measured."""

from __future__ import annotations

from firmware.selftest.report import asked_of, report_lines, verdict_lines
from firmware.selftest.walk import Walk
from hardware.selftest import run_selftest
from hardware.simulated.board_faults import fault_named
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest
from tests.firmware.selftest.benches import BENCH


def walked(*faults: str, skip: frozenset[str] = frozenset()) -> Walk:
    """The self-test of a box with some faults."""
    box = good_box(BENCH)
    for name in faults:
        fault_named(name).change(box)
    return run_selftest(BENCH, SimulatedBoxUnderTest(BENCH, box), skip)


def test_a_good_box_is_told_with_its_facts_and_figures() -> None:
    lines = report_lines(walked(), (("board", "Keelnote board"),))
    assert lines[:2] == ("Self-test", "  board: Keelnote board")
    assert "Nothing is wrong." in lines
    text = "\n".join(lines)
    for word in ("picture on the screen: 23 ms", "stick: 6.0 MB/s", "delay 55.0 ms", "processor: 52 C", "distortion"):
        assert word in text, text


def test_a_keyboard_is_listed_and_none_is_said_without_a_fault() -> None:
    alone = frozenset({"sound", "stick"})
    assert "  MIDI keyboards: none" in report_lines(walked(skip=alone))
    box = good_box(BENCH)
    box.keyboard = "Little keys"
    walk = run_selftest(BENCH, SimulatedBoxUnderTest(BENCH, box), alone)
    lines = report_lines(walk)
    assert "  MIDI keyboards: Little keys" in lines
    assert "Nothing is wrong." in lines
    assert asked_of(walk.done)[-1][2] == "Play one note: Little keys"


def test_faults_are_numbered_and_say_what_to_do() -> None:
    lines = verdict_lines(walked("keys-swapped", "led-reversed", skip=frozenset({"sound"})))
    assert lines[:2] == ("Left out: Sound.", "2 things are wrong:")
    assert lines[2] == "  1. Pulse and Ear are swapped. Exchange their wires at places 33 and 32 of the header."
    assert lines[3].startswith("  2. The LED stays dark. Turn it round")


def test_one_fault_is_one_thing() -> None:
    assert "1 thing is wrong:" in verdict_lines(walked("hot", skip=frozenset({"sound"})))


def test_a_missing_card_leaves_no_figures_of_sound() -> None:
    assert "distortion" not in "\n".join(report_lines(walked("card-missing")))


def test_what_was_asked_is_told_in_order_without_what_the_machine_did() -> None:
    asked = asked_of(walked(skip=frozenset({"sound"})).done)
    assert asked[0][2].startswith("Hands and feet off")
    assert all(text for _, _, text in asked)
