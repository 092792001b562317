"""The parts of the image's figures that need no emulated board: what was written where, what is kept."""

from __future__ import annotations

import json
import re
from pathlib import Path

from emulated.write_log import DISCARD, FLUSH, Write
from figures import results
from figures.use import by_partition
from maker import layout


def wrote(sector: int, sectors: int = 8, flags: int = 0) -> Write:
    return Write(sector, sectors, flags, 0, 0)


def test_writes_are_told_apart_by_partition() -> None:
    data = layout.DATA
    writes = (
        wrote(0, 1),
        wrote(layout.SLOT_B.start),
        wrote(layout.SLOT_B.start + layout.SLOT_B.size - 8),
        wrote(data.start + data.size * 30, 2),  # where it has grown to
        wrote(data.start, 100, DISCARD),
        wrote(0, 0, FLUSH),
    )
    assert by_partition(writes) == {
        "table": 512,
        "SELECT": 0,
        "slot A": 0,
        "slot B": 16 * 512,
        "keelnote-data": 2 * 512,
    }


def test_figures_are_kept_with_date_and_machine(tmp_path: Path) -> None:
    given = results.keep(tmp_path, "start", {"ratio": 0.98765, "rows": [1, 0.12345], "count": 7})
    assert json.loads((tmp_path / "start.json").read_text(encoding="utf-8")) == given
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", given["date"])
    assert "QEMU" in given["machine"]
    assert (given["ratio"], given["rows"], given["count"]) == (0.988, [1, 0.123], 7)
