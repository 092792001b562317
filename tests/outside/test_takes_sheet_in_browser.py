"""The sheet in a real browser: one printed page. Source: the printing of Chromium (Debian's package)."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from firmware.settings import setting_named
from firmware.sheet.rehearsal import HeldNote, KeySpan, Rehearsal, SoundLevel, TakeNote, TakePart
from firmware.sheet.sheet import sheet_html
from firmware.sheet.telling import ON_THE_SHEET

pytestmark = pytest.mark.long


def full_rehearsal() -> Rehearsal:
    """An hour and a half: twelve degrees, seventy notes, eight takes with markers, the settings that are listed."""
    degrees = ("1", "♭2", "2", "♭3", "3", "4", "♯4", "5", "♭6", "6", "♭7", "7")
    notes = tuple(
        HeldNote(
            70.0 * n,
            70.0 * n + 4,
            degrees[n % 12],
            "B♭4",
            "C5",
            (n * 7919) % 41 - 20.0,
            2.0,
            1.0,
            1.0 if n % 3 else None,
        )
        for n in range(70)
    )
    markers = tuple((10.0 * n, f"Letter {chr(65 + n)}") for n in range(6))
    return Rehearsal(
        number=42,
        title="Spring concert, second full rehearsal",
        date="2026-11-25",
        seconds=5400.0,
        keys=tuple(
            KeySpan(450.0 * n, ("B♭ major", "E♭ major", "G minor")[n % 3], sounding=n % 4 > 0) for n in range(12)
        ),
        notes=notes,
        takes=tuple(
            TakeNote(n, 600.0 * n, 120.0, markers, (TakePart(f"take-{n:02d}.flac", 120.0),)) for n in range(1, 9)
        ),
        settings=tuple(
            (setting.help, f"{setting.default} {setting.unit}".strip()) for setting in map(setting_named, ON_THE_SHEET)
        ),
        reading="clarinet in B♭",
        level=SoundLevel(5400.0, 84.6, 101.2, calibrated=True, dose=17.0, counted_s=4800.0),
    )


def test_even_a_full_rehearsal_prints_on_one_page(tmp_path: Path) -> None:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium is not installed; Debian's package of that name has it")
    sheet, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    sheet.write_text(sheet_html(full_rehearsal()), encoding="utf-8")
    # A profile of its own, and no name resolves: the browser can only print.
    options = ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path}/profile")
    offline = ("--disable-background-networking", "--host-resolver-rules=MAP * ~NOTFOUND")
    printing = ("--no-pdf-header-footer", f"--print-to-pdf={pdf}", sheet.as_uri())
    subprocess.run([program, *options, *offline, *printing], capture_output=True, check=True, timeout=90)
    pages = re.findall(rb"/Type\s*/Page\b(?!s)", pdf.read_bytes())
    assert len(pages) == 1
