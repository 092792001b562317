"""`keelnote sheet`: write the sheet of a rehearsal anew from its files, or those of a whole stick."""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from firmware.errors import BadFileError
from firmware.sheet.figures import past_of
from firmware.sheet.past import Past
from firmware.sheet.reading import Files, read_rehearsal
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.sheet import sheet_html
from firmware.sheet.words import counted, listed
from hardware.drivers.history import MOST, SHEET, figures, files_of, numbered
from hardware.drivers.stick import FolderStick

REHEARSALS: Final = "rehearsals"
ALLOWED: Final = "the folder of a rehearsal, or the KEELNOTE folder of a stick"
REMEDY: Final = "A rehearsal's folder begins with its number and holds log.jsonl, notes.csv or takes."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote sheet`."""
    parser.description = (
        "Write sheet.html anew from log.jsonl, notes.csv, the chapters and the takes beside it. Lines that can't be "
        "read are counted on the sheet, all others used. Earlier rehearsals in the same place give the trend."
    )
    parser.add_argument("folder", type=Path, metavar="DIR", help="a rehearsal's folder, or KEELNOTE for all of them")
    parser.add_argument("--json", action="store_true", help="one JSON object for each sheet")


def run(args: argparse.Namespace) -> int:
    """Write the sheets; 0 if all were written.

    Raises
    ------
    BadFileError
        If the folder holds no rehearsal.
    DeviceError
        If it can't be read or written.
    """
    root, wanted = _wanted(args.folder)
    stick = FolderStick(root)
    every = numbered(name for name in stick.names("") if (root / name).is_dir())
    past: list[Past] = []
    written = 0
    for _, name in every:
        chosen = wanted is None or name == wanted
        known = None if chosen else figures(stick, name)
        if known is not None:
            past.append(known)
            continue
        files = files_of(stick, root, name)
        if not _holds_anything(files):
            continue
        rehearsal = replace(read_rehearsal(files), past=tuple(past[-MOST:]))
        past.append(past_of(rehearsal))
        if chosen:
            page = sheet_html(rehearsal)
            stick.write_text(f"{name}/{SHEET}", page)
            _tell(args, root / name / SHEET, rehearsal, len(page.encode()))
            written += 1
        if name == wanted:
            break
    if not written:
        raise BadFileError("folder", str(args.folder), ALLOWED, REMEDY)
    return 0


def _wanted(folder: Path) -> tuple[Path, str | None]:
    """The folder that holds the rehearsals, and the one that is wanted, None for all."""
    place = folder.resolve()
    if not place.is_dir():
        raise BadFileError("folder", str(folder), ALLOWED, REMEDY)
    inner = place / REHEARSALS
    if inner.is_dir():
        return inner, None
    return (place, None) if place.name == REHEARSALS else (place.parent, place.name)


def _holds_anything(files: Files) -> bool:
    return files.log is not None or files.notes is not None or bool(files.takes)


def _tell(args: argparse.Namespace, place: Path, rehearsal: Rehearsal, size: int) -> None:
    if args.json:
        told: dict[str, Any] = {
            "sheet": str(place),
            "bytes": size,
            "number": rehearsal.number,
            "seconds": round(rehearsal.seconds, 3),
            "notes": len(rehearsal.notes),
            "chords": len(rehearsal.chords),
            "takes": len(rehearsal.takes),
            "earlier": len(rehearsal.past),
            "unread": {one.file: one.lines for one in rehearsal.unread},
        }
        print(json.dumps(told))
        return
    print(f"{place}: {counted(len(rehearsal.notes), 'held note')}, {counted(len(rehearsal.takes), 'take')}")
    if rehearsal.unread:
        lines = [f"{counted(one.lines, 'line')} of {one.file}" for one in rehearsal.unread]
        print(f"  {listed(lines)} could not be read; all the others were used")
