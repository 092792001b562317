"""`keelnote mend`: give takes that were cut off their length back, and say what else on a stick is damaged."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path
from typing import Final

from firmware.errors import BadFileError
from firmware.sheet.words import counted
from hardware.drivers.stick import FolderStick
from hardware.stick_check import Finding, check_stick, place_of

STILL_DAMAGED: Final = 1


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote mend`."""
    parser.description = (
        "Give takes that were cut off by a power cut or a pulled stick their length back, as the box does by itself "
        "when it is switched on. Then decode every take, read every text of the box, and say what is damaged. "
        "Answers 1 if something stays damaged."
    )
    parser.add_argument("folder", type=Path, metavar="DIR", help="a stick, its KEELNOTE folder, or a rehearsal in it")
    parser.add_argument("--json", action="store_true", help="one JSON object for each file")


def run(args: argparse.Namespace) -> int:
    """Mend and look; 0 if all can be used now.

    Raises
    ------
    BadFileError
        If there is no such folder, or nothing of the box in it.
    """
    if not args.folder.is_dir():
        raise BadFileError("folder", str(args.folder), "a folder that is there")
    found: list[Finding] = []
    for finding in check_stick(FolderStick(place_of(args.folder))):
        found.append(finding)
        line = json.dumps(asdict(finding), ensure_ascii=True) if args.json else _line(finding)
        if line:
            print(line, flush=True)
    if not found:
        allowed = "a stick, its KEELNOTE folder, or the folder of a rehearsal"
        raise BadFileError("folder", str(args.folder), allowed, "There is no file of the box in it.")
    if not args.json:
        print(_summary(found))
    return STILL_DAMAGED if any(finding.damage for finding in found) else 0


def _line(finding: Finding) -> str:
    """What is worth saying of a file; nothing for one that is whole."""
    length = "" if finding.seconds is None else f"{_clock(finding.seconds)}, "
    words = (("mended",) if finding.mended else ()) + finding.damage
    return f"{printable(finding.path)}: {length}{'; '.join(map(printable, words))}" if words else ""


def _summary(found: list[Finding]) -> str:
    takes = [finding for finding in found if finding.seconds is not None]
    whole = sum(finding.seconds or 0.0 for finding in takes)
    damaged = sum(bool(finding.damage) for finding in found)
    mended = sum(finding.mended for finding in found)
    return (
        f"{counted(len(found), 'file')} looked at, {counted(len(takes), 'take')} of {_clock(whole)} in all; "
        f"{mended} mended, {damaged} damaged."
    )


def _clock(seconds: float) -> str:
    minutes, rest = divmod(seconds, 60.0)
    return f"{int(minutes)} min {rest:.1f} s" if minutes else f"{rest:.1f} s"


def printable(text: str) -> str:
    """A name as a terminal can show it: names on somebody else's stick may hold anything."""
    return "".join(
        letter if letter.isprintable() else "?" for letter in text.encode("utf-8", "replace").decode("utf-8")
    )
