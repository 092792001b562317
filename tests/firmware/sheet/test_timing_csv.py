"""Notes against the pulse, for a spreadsheet."""

from __future__ import annotations

import csv

from firmware.heard_events import BarTimed
from firmware.sheet.timing_csv import COLUMNS, timing_header, timing_lines


def test_every_note_has_a_line():
    bar = BarTimed(0, 7, -3.0, 2.0, (("1", -12.25), ("2 1/2", 6.0)))
    rows = list(csv.reader([timing_header(), *timing_lines(bar)]))
    assert rows == [["bar", "beat", "late_ms"], ["7", "1", "-12.2"], ["7", "2 1/2", "6.0"]]
    assert len(COLUMNS) == 3
