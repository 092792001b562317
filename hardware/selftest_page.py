"""The page of the self-test: what it looks at, what it asks and what it can find, drawn from the board file."""

from __future__ import annotations

from firmware.selftest.ask import Ask, Do
from firmware.selftest.kinds import KINDS
from firmware.selftest.steps import STEPS
from hardware.board.nets import ohms
from hardware.board.parts import Board
from hardware.board.wiring import table
from hardware.selftest import bench_of, run_selftest
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest

ALONE = {
    Do.PROBE: "each line is read with a pull-up, then with a pull-down",
    Do.SCAN: "who answers on I2C, and how long a picture takes",
    Do.MEASURE_STICK: "a file of six seconds of sound is written, and deleted",
    Do.READ_SUPPLY: "flags of under-voltage, and heat",
    Do.READ_CLOCK: "whether the clock chip answers and goes",
    Do.FIND_KEYBOARDS: "which MIDI keyboards are plugged in; where there is one, it is asked for a note",
}
"""What the box does alone, in words."""


def drawings_of(board: Board) -> dict[str, str]:
    """Every table of the page by its name."""
    return {"contacts": contact_table(board), "steps": step_table(board), "faults": fault_table()}


def contact_table(board: Board) -> str:
    """Each contact with its pin, its place, what holds it up, and how long it may bounce."""
    bench, pins = bench_of(board), dict(board.contacts)
    rows = []
    for line in bench.lines:
        held = f"{ohms(board.pedals.pull_up)} beside the pin" if line.outside else "the processor"
        rows.append((line.name, f"GPIO {pins[line.name]}", str(line.place), held, f"{1000 * line.settle:g} ms"))
    return table(("contact", "pin", "place", "held up by", "may bounce for"), rows)


def step_table(board: Board) -> str:
    """What each step asks for, in its order, on a box without a fault."""
    bench = bench_of(board)
    walk = run_selftest(bench, SimulatedBoxUnderTest(bench, good_box(bench)), frozenset({"sound"}))
    asked: dict[str, list[str]] = {step.name: [] for step in STEPS}
    for one in walk.done:
        asked[one.ask.step].append(_words(one.ask))
    asked["sound"] = ["the PA is turned up until a tone is as loud as speech", "two sweeps and two tones are recorded"]
    rows = [(step.title, "; ".join(asked[step.name])) for step in STEPS if asked[step.name]]
    return table(("step", "what happens"), rows)


def _words(ask: Ask) -> str:
    if not ask.text:
        return ALONE[ask.do]
    return f"{ask.text}: {' / '.join(ask.choices)}" if ask.choices else ask.text


def fault_table() -> str:
    """Every fault with what is wrong and what to do."""
    return table(("what is wrong", "what to do"), [(kind.what, kind.remedy) for kind in KINDS])
