"""`keelnote selftest`: find the builder's mistakes, on the box or on a simulated one."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from typing import Final

from firmware.errors import BadFileError, UnknownNameError
from firmware.selftest.report import report_lines, verdict_lines
from firmware.selftest.steps import STEPS
from firmware.selftest.walk import Walk
from hardware.board.parts import Board
from hardware.board.table import VARIANTS, own_board, read_board
from hardware.board_facts import board_facts
from hardware.selftest import BoxUnderTest, bench_of, run_selftest
from hardware.simulated.board_faults import FAULTS, fault_named
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest

FAULTY: Final = 1

Report = Callable[[tuple[str, ...]], object]
Opened = tuple[BoxUnderTest, Callable[[Walk], object], Report]
"""The box, what is done at the end with the outcome, and where the report goes."""

OpenBox = Callable[[Board, Path], Opened]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote selftest`."""
    parser.description = (
        "Go through keys, knob, pedals, screen, light, stick, sound, supply, clock chip and keyboards, say what is "
        "wrong and what to do about it, and write that into report.txt on the stick. Answers 1 if something is wrong."
    )
    parser.add_argument("--simulated", action="store_true", help="test a simulated box with a simulated builder")
    parser.add_argument("--fault", action="append", default=[], metavar="NAME", help="build that fault into it first")
    parser.add_argument("--faults", action="store_true", help="list the faults that can be built in")
    parser.add_argument("--skip", action="append", default=[], metavar="STEP", help="leave a step out")
    parser.add_argument("--variant", choices=VARIANTS, help="variant of the board (default: as the board file says)")
    parser.add_argument("--board", type=Path, metavar="FILE", help="a board file of one's own")
    parser.add_argument("--stick", type=Path, default=Path("/media/keelnote"), metavar="DIR", help="where the stick is")
    parser.add_argument("--json", action="store_true", help="print what was found as one JSON object")


def run(args: argparse.Namespace, open_box: OpenBox) -> int:
    """Run the self-test; 0 if nothing is wrong.

    Raises
    ------
    UnknownNameError
        For a step or a fault that there isn't.
    BadFileError
        For faults without --simulated, or a board file that can't be used.
    """
    if args.faults:
        print("\n".join(f"{fault.name:26} {fault.code}" for fault in FAULTS))
        return 0
    steps = tuple(step.name for step in STEPS)
    for name in args.skip:
        if name not in steps:
            raise UnknownNameError("step", name, steps)
    if args.fault and not args.simulated:
        raise BadFileError("--fault", args.fault[0], "faults are built into a simulated box", "Add --simulated.")
    board = _board(args)
    if any("clock" in fault_named(name).touches for name in args.fault):
        board = replace(board, clock=replace(board.clock, fitted=True))
    box, finish, report = _simulated(board, args.fault) if args.simulated else open_box(board, args.stick)
    tell: Callable[[Walk], object] = (lambda _walk: None) if args.json else _prompt
    walk = run_selftest(bench_of(board), box, frozenset(args.skip), tell)
    finish(walk)
    lines = report_lines(walk, board_facts(board))
    report(lines)
    print(_json(walk) if args.json else "\n".join(lines if args.simulated else verdict_lines(walk)))
    return FAULTY if walk.findings else 0


def _board(args: argparse.Namespace) -> Board:
    if args.board is None:
        return own_board(args.variant)
    try:
        text = args.board.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadFileError("board file", str(args.board), "a text file that can be read", str(error)) from error
    return read_board(text, args.board.name, args.variant)


def _simulated(board: Board, faults: list[str]) -> Opened:
    bench = bench_of(board)
    box = good_box(bench)
    for name in faults:
        fault_named(name).change(box)
    return SimulatedBoxUnderTest(bench, box), lambda _walk: None, lambda _lines: None


def _prompt(walk: Walk) -> None:
    ask = walk.ask
    if ask is None or not ask.text:
        return
    print(f"[{walk.at + 1}/{len(walk.names)}] {ask.text}{':' if ask.choices else '.'}", flush=True)
    if ask.choices:
        for number, choice in enumerate(ask.choices, start=1):
            print(f"      {number}  {choice}")
        key = ask.key.removeprefix("key ")
        print(f"      Press {key} so often." if key else "      No key works to answer with.", flush=True)


def _json(walk: Walk) -> str:
    found = [
        {**asdict(one), "values": dict(one.values), "line": one.line, "sentence": one.sentence} for one in walk.findings
    ]
    return json.dumps({"findings": found, "steps": list(walk.names)}, ensure_ascii=False)
