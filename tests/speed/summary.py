"""The figures of tests/speed/results as the table that stands in README.md: one row each, from one place."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

RESULTS = Path(__file__).parent / "results"
BEGIN = "<!-- figures: begin -->"
END = "<!-- figures: end -->"


@dataclass(frozen=True, slots=True)
class Row:
    """One figure: what it is, the program and key of its number, how it is written, and what was to be reached."""

    what: str
    program: str
    key: str
    form: str
    goal: str


ROWS = (
    Row("default rehearsal (92 s), times real time", "box", "rehearsal_times_real_time", "{:.1f} ×", "at least 10 ×"),
    Row("its peak memory", "box", "rehearsal_peak_mb", "{:.0f} MB", "under 250 MB"),
    Row("8-note drone, ear and take together", "box", "drone_ear_take_percent", "{:.1f} % of a core", "at most 12 %"),
    Row("drone alone, 32 notes of 16 partials", "drone", "drone_32_notes_percent", "{:.2f} % of a core", "at most 1 %"),
    Row("the same with mixer and limiter", "drone", "engine_32_notes_percent", "{:.2f} % of a core", ""),
    Row("engine against FluidSynth, per note", "drone", "engine_to_fluidsynth_per_note", "{:.2f} ×", "under 1 ×"),
    Row("block in which 8 notes change, worst", "drone", "change_of_8_notes_ms.worst", "{:.2f} ms", "of 10.67 ms"),
)


def number_of(program: str, key: str, folder: Path = RESULTS) -> float:
    """The number under a dotted key of a program's results."""
    value = json.loads((folder / f"{program}.json").read_text(encoding="utf-8"))
    for part in key.split("."):
        value = value[part]
    return float(value)


def figures_text(folder: Path = RESULTS) -> str:
    """The table, and on which machine and day each program ran."""
    lines = ["| figure | measured | to reach | program |", "| --- | --- | --- | --- |"]
    for row in ROWS:
        written = row.form.format(number_of(row.program, row.key, folder))
        lines.append(f"| {row.what} | {written} | {row.goal} | `tests/speed/{row.program}.py` |")
    lines.append("")
    for program in dict.fromkeys(row.program for row in ROWS):
        found = json.loads((folder / f"{program}.json").read_text(encoding="utf-8"))
        lines.append(f"`{program}`: {found['date']}, {found['machine']}.")
    return "\n".join(lines) + "\n"


def renewed(document: str) -> str:
    """A document with its figures drawn anew; unchanged if it has no place for them."""
    before, begin, rest = document.partition(BEGIN)
    _, end, after = rest.partition(END)
    return f"{before}{BEGIN}\n{figures_text()}{END}{after}" if begin and end else document
