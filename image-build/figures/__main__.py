"""Measures the image's figures and keeps them in results.json beside this: `.venv/bin/python image-build/figures`.

`--starts 3` starts box and plain Debian alternately by the clock on the wall, which wants the machine to itself;
`--hour` watches the card for an hour of rehearsal. Without these, one start of each, counted in instructions. Only what
was measured anew is replaced.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

HERE: Final = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
sys.dont_write_bytecode = True

from emulated.board import Board  # noqa: E402 - only now is its folder known
from emulated.sticks import make_stick  # noqa: E402 - the same
from emulated.write_log import writes_of  # noqa: E402 - the same
from figures import results  # noqa: E402 - the same
from figures.start import Moment, flashed, machine, own_start, plain_start  # noqa: E402 - the same
from figures.use import TAKE, memory, play, start_with_stick, work, written  # noqa: E402 - the same

RESULTS: Final = HERE / "results.json"
IMAGE: Final = Path(os.environ.get("KEELNOTE_IMAGE", HERE.parent / "out"))
HOUR: Final = 3600.0


def counted(folder: Path) -> dict[str, Any]:
    """Both starts in instructions, once each: they repeat."""
    plain, own = plain_start(IMAGE, folder / "plain", counted=True), own_start(IMAGE, folder / "own", counted=True)
    return {**{name: moment.instructions for name, moment in (("login", plain), *_moments(own))}, **_ratios(plain, own)}


def walls(folder: Path, starts: int) -> dict[str, Any]:
    """Both starts on the wall, alternately; medians and all values, in seconds."""
    rows: dict[str, list[Moment]] = {"login": [], "ready": [], "block": [], "sound": []}
    for _ in range(starts):
        rows["login"].append(plain_start(IMAGE, folder / "plain", counted=False))
        for name, moment in _moments(own_start(IMAGE, folder / "own", counted=False)):
            rows[name].append(moment)
    middle = {name: statistics.median(moment.wall for moment in row) for name, row in rows.items()}
    return {
        "starts": starts,
        "wall": {name: [moment.wall for moment in row] for name, row in rows.items()},
        "processor": {name: [moment.processor for moment in row] for name, row in rows.items()},
        "median": middle,
        "ready_to_login": middle["ready"] / middle["login"],
        "sound_to_login": middle["sound"] / middle["login"],
    }


def _moments(own: Any) -> tuple[tuple[str, Moment], ...]:  # noqa: ANN401 - an OwnStart, whose names are kept
    return (("ready", own.ready), ("block", own.block), ("sound", own.sound))


def _ratios(plain: Moment, own: Any) -> dict[str, float]:  # noqa: ANN401 - the same
    return {
        "ready_to_login": own.ready.instructions / plain.instructions,
        "sound_to_login": own.sound.instructions / plain.instructions,
    }


def rehearsal(folder: Path, seconds: float) -> dict[str, Any]:
    """What is written on the card while everything plays, with the stick in; in real time."""
    card = flashed(IMAGE, folder)
    board = Board(card, folder, machine(folder, counted=False), card_log=folder / "writes.log")
    assert board.card_log is not None
    try:
        start_with_stick(board, make_stick(folder / "stick.img"))
        mark = len(writes_of(board.card_log))
        play(board)
        spent = work(board, seconds, counted=False)
        used = memory(board)
        board.control.tap(TAKE, hold=0.3)
        return {"seconds": spent.seconds, "written": written(board.card_log, mark), "memory": asdict(used)}
    finally:
        board.cut_power()


def sizes() -> dict[str, Any]:
    """Megabytes of the files."""
    names = ("keelnote.img", "slot.img")
    megabytes = {name: (IMAGE / name).stat().st_size / 1e6 for name in names if (IMAGE / name).exists()}
    listed = subprocess.run(["mdir", "-b", "-i", IMAGE / "slot.img"], capture_output=True, text=True, check=True)
    return {**megabytes, "files_in_slot": len(listed.stdout.split())}


def main() -> int:
    """Measure what was asked for."""
    parser = argparse.ArgumentParser(prog="image-build/figures", description="Measures the image's figures.")
    parser.add_argument("--starts", type=int, metavar="N", help="start both N times by the clock on the wall")
    parser.add_argument("--hour", action="store_true", help="watch the card for an hour of rehearsal")
    args = parser.parse_args()
    kept: dict[str, Any] = json.loads(RESULTS.read_text(encoding="utf-8")) if RESULTS.exists() else {}
    jobs: dict[str, Callable[[Path], dict[str, Any]]] = {"size": lambda _folder: sizes()}
    if args.starts:
        jobs["start_on_the_wall"] = lambda folder: walls(folder, args.starts)
    elif args.hour:
        jobs["hour"] = lambda folder: rehearsal(folder, HOUR)
    else:
        jobs["start_counted"] = counted
    for name, job in jobs.items():
        with tempfile.TemporaryDirectory() as folder:
            kept[name] = results.keep(Path(folder), name, job(Path(folder)))
        RESULTS.write_text(json.dumps(kept, indent=2) + "\n", encoding="utf-8")
        print(json.dumps({name: kept[name]}, indent=2), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
