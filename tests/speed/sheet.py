"""What the sheet of a two-hour rehearsal costs: `python tests/speed/sheet.py [runs]`.

Processor time from the texts of log, table and chapters to the page, and of the page alone as the box draws it; the
page's size, as it is and with every note of a room that never rests (9000 in two hours, one each 0.8 s); and what one
note more adds to the time that the notebook takes.
"""

from __future__ import annotations

import json
import platform
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from firmware.commands import WriteText
from firmware.events import SheetDue
from firmware.heard_events import NoteHeld
from firmware.parts.notebook import NOTEBOOK
from firmware.parts.part import Start
from firmware.sheet.reading import read_rehearsal
from firmware.sheet.sheet import sheet_html
from firmware.units import RATE
from tests.speed.sheet_evening import evening

RESULTS = Path(__file__).parent / "results" / "sheet.json"
NOTES = 4000
BUSIEST = 9000


def seconds_of_cpu(work: Callable[[], object], runs: int) -> float:
    """Median processor time."""
    taken = []
    for _ in range(runs):
        begin = time.process_time()
        work()
        taken.append(time.process_time() - begin)
    return statistics.median(taken)


def measure(runs: int = 7) -> dict[str, object]:
    """All figures."""
    usual, busiest = evening(NOTES), evening(BUSIEST)
    told = replace(usual.rehearsal, past=usual.past)
    crowded = replace(busiest.rehearsal, past=busiest.past)
    return {
        "notes": NOTES,
        "files_to_page_seconds": round(
            seconds_of_cpu(lambda: sheet_html(replace(read_rehearsal(usual.files), past=usual.past)), runs), 3
        ),
        "page_seconds": round(seconds_of_cpu(lambda: sheet_html(told), runs), 3),
        "page_kb": round(len(sheet_html(told).encode()) / 1000, 1),
        "busiest_notes": BUSIEST,
        "busiest_files_to_page_seconds": round(
            seconds_of_cpu(lambda: sheet_html(replace(read_rehearsal(busiest.files), past=busiest.past)), runs), 3
        ),
        "busiest_page_kb": round(len(sheet_html(crowded).encode()) / 1000, 1),
        "note_in_the_notebook_ms": round(_notebook(), 3),
    }


def _notebook(notes: int = NOTES) -> float:
    """Milliseconds that the notebook takes for one of the last of so many notes; the sheet after them is drawn too."""
    state = NOTEBOOK.start(Start())
    taken = []
    for number in range(notes):
        at = (number + 1) * RATE
        event = NoteHeld(at, at - RATE // 2, "3", "D4", "E4", float(number % 20 - 8), 1.0, None, None)
        begin = time.process_time()
        state, _ = NOTEBOOK.handlers[NoteHeld](state, event)
        taken.append(time.process_time() - begin)
    _, (sheet,) = NOTEBOOK.handlers[SheetDue](state, SheetDue(notes * RATE))
    assert isinstance(sheet, WriteText)
    return 1000 * statistics.median(taken[-200:])


def main() -> None:
    """Measure, print, keep."""
    results = measure(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
    results |= {
        "machine": f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}",
        "date": time.strftime("%Y-%m-%d"),
    }
    text = json.dumps(results, indent=2) + "\n"
    RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
