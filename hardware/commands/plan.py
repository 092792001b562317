"""`keelnote plan`: checks a plan and prints it as a table, makes a plan of a score, or writes one to begin with."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path
from typing import Final

from firmware.errors import BadFileError, KeelnoteError, OutOfRangeError
from firmware.music.languages import language_named
from firmware.music.tunings import TUNINGS
from firmware.music.words import Words
from firmware.plan.plan import Plan
from firmware.plan.plan_text import example_plan, plan_table, write_plan
from hardware.commands.naming import add_names, words_from
from hardware.own_tunings import FOLDER, KIND
from hardware.plan_files import KINDS, LONGEST, plan_of_file

BAD_PLAN: Final = 2
WIDEST: Final = 44
"""Characters of a column of the table, the last one apart."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote plan`."""
    parser.description = "Check a plan and print it as a table, or make a plan of a score."
    say = parser.add_argument
    say("file", nargs="?", metavar="FILE", help="plan (.toml), score (.musicxml, .xml, .mxl) or MIDI file (.mid)")
    say("--new", action="store_true", help="print a plan to begin with, every key explained")
    say("--out", metavar="PLAN.toml", help="write the plan here")
    say("--once", action="store_true", help="of a score each section once, as printed, not in the order of playing")
    add_names(parser)
    say("--json", action="store_true", help="print the plan as one JSON object")


def run(args: argparse.Namespace) -> int:
    """Print the plan; 0 if nothing in it was wrong, else 2 after naming all that was."""
    if args.new:
        if args.file is not None:
            raise OutOfRangeError("FILE", args.file, "left out beside --new")
        _give(example_plan(args.names), args.out)
        return 0
    if args.file is None:
        raise OutOfRangeError("FILE", "", "a plan or a score: " + ", ".join(KINDS), "Or write --new.")
    plan, problems, remarks = plan_of_file(
        _bytes(args.file), args.file, once=args.once, names=args.names, tunings=_tunings(args.file)
    )
    remarks += _own_tunings(plan, args.file)
    if args.out is not None:
        _give(write_plan(plan, args.names), args.out)
    words = words_from(args)
    print(_as_json(plan, problems, remarks) if args.json else _as_text(plan, problems, remarks, words))
    return BAD_PLAN if problems else 0


def _tunings(file: str) -> tuple[str, ...] | None:
    """Names of the own tunings beside a plan in the folders of a stick; None where there is no such folder."""
    folder = Path(file).resolve().parent.parent / FOLDER
    return tuple(sorted(path.stem for path in folder.glob(f"*{KIND}"))) if folder.is_dir() else None


def _own_tunings(plan: Plan, file: str) -> tuple[str, ...]:
    """Say which tunings must be on the stick, where that could not be looked up."""
    if _tunings(file) is not None:
        return ()
    named = {str(value) for step in plan.steps for name, value in step.values if name == "tuning"}
    own = sorted(named - {tuning.name for tuning in TUNINGS})
    return tuple(
        f"tuning {name} is none of the box's: it must be on the stick as {FOLDER}/{name}{KIND}" for name in own
    )


def _give(text: str, out: str | None) -> None:
    if out is None:
        print(text, end="")
        return
    try:
        Path(out).write_text(text, encoding="utf-8")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BadFileError("--out", out, "a file that can be written", f"It could not be written: {reason}.") from error


def _bytes(name: str) -> bytes:
    try:
        with Path(name).open("rb") as file:
            return file.read(LONGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BadFileError("file", name, "a file that can be read", f"It could not be read: {reason}.") from error


def _as_json(plan: Plan, problems: tuple[KeelnoteError, ...], remarks: tuple[str, ...]) -> str:
    steps = [{**asdict(step), "values": dict(step.values)} for step in plan.steps]
    told = {"title": plan.title, "names": plan.names, "values": dict(plan.values), "steps": steps}
    return json.dumps({**told, "problems": [one.text for one in problems], "remarks": remarks}, ensure_ascii=False)


def _as_text(plan: Plan, problems: tuple[KeelnoteError, ...], remarks: tuple[str, ...], words: Words) -> str:
    held = "".join(f", {name} {value}" for name, value in plan.values)
    lines = [f"{plan.title or 'A plan without a title'}{held}"] if plan.steps or not problems else []
    if plan.steps:
        lines += ["", *_columns(plan_table(plan, words))]
        minutes = plan.minutes_after(0)
        count = len(plan.steps)
        lines += ["", f"{count} step{'s' if count != 1 else ''}" + (f", {minutes:g} minutes." if minutes else ".")]
    elif not problems:
        lines.append("It has no steps.")
    lines += [*(f"remark: {remark}" for remark in remarks), *(problem.text for problem in problems)]
    if plan.names != words.notes.name:
        lines.append(f"The plan names its notes in {language_named(plan.names).title}.")
    return "\n".join(lines)


def _columns(rows: tuple[tuple[str, ...], ...]) -> list[str]:
    def shortened(cell: str) -> str:
        return cell if len(cell) <= WIDEST else cell[: WIDEST - 1] + "…"

    cut = [(*map(shortened, row[:-1]), row[-1]) for row in rows]
    wide = [max(len(row[column]) for row in cut) for column in range(len(rows[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, wide, strict=True)).rstrip() for row in cut]
