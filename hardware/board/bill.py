"""The bill of materials: what to buy for one box of each variant, and what a class set comes to."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from importlib import resources
from typing import Final

from firmware.errors import BadEntryError

FILE: Final = "bill_of_materials.csv"
COLUMNS: Final = ("marks", "part", "variants", "quantity", "low_eur", "high_eur", "priced", "instead")
VARIANTS: Final = ("A", "B", "AB")
MOST_EUR: Final = 1000.0


@dataclass(frozen=True, slots=True)
class Item:
    """One line: marks of the wiring, the part, for which variants, how many, price each in euros, what else does."""

    marks: tuple[str, ...]
    part: str
    variants: str
    quantity: int
    low: float
    high: float
    priced: str
    instead: str


def own_bill() -> tuple[Item, ...]:
    """The project's own bill."""
    return read_bill(resources.files("hardware.board").joinpath(FILE).read_text(encoding="utf-8"), FILE)


def read_bill(text: str, source: str) -> tuple[Item, ...]:
    """A bill from the text of its file; raises BadEntryError for the first thing that is wrong in it, with its line."""
    rows = csv.DictReader(io.StringIO(text), strict=True)
    if tuple(rows.fieldnames or ()) != COLUMNS:
        raise BadEntryError(source, 1, "columns", ",".join(rows.fieldnames or ()), ",".join(COLUMNS))
    return tuple(_item(row, source, rows.line_num) for row in rows)


def _item(row: dict[str, str], source: str, line: int) -> Item:
    if None in row or None in row.values():
        raise BadEntryError(source, line, "columns", len(row), f"{len(COLUMNS)} cells, one for each column")
    for key in ("part", "priced"):
        if not row[key].strip():
            raise BadEntryError(source, line, key, row[key], "some words")
    if row["variants"] not in VARIANTS:
        raise BadEntryError(source, line, "variants", row["variants"], ", ".join(VARIANTS))
    low, high = (_number(row, key, source, line) for key in ("low_eur", "high_eur"))
    if high < low:
        raise BadEntryError(source, line, "high_eur", row["high_eur"], f"at least low_eur, {row['low_eur']}")
    if not row["quantity"].isdecimal() or int(row["quantity"]) > MOST_EUR:
        raise BadEntryError(source, line, "quantity", row["quantity"], "a whole number, 0 for what is optional")
    marks = tuple(row["marks"].split())
    quantity = int(row["quantity"])
    if marks and len(marks) != quantity:
        raise BadEntryError(source, line, "quantity", quantity, f"{len(marks)}, as there are marks")
    return Item(marks, row["part"], row["variants"], quantity, low, high, row["priced"], row["instead"])


def _number(row: dict[str, str], key: str, source: str, line: int) -> float:
    try:
        value = float(row[key])
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= MOST_EUR:
        raise BadEntryError(source, line, key, row[key], f"a price in euros, 0 to {MOST_EUR:g}")
    return value


def total(bill: tuple[Item, ...], variant: str, boxes: int = 1) -> tuple[float, float]:
    """Lowest and highest sum in euros for so many boxes of a variant."""
    mine = [item for item in bill if variant in item.variants]
    return (
        boxes * sum(item.quantity * item.low for item in mine),
        boxes * sum(item.quantity * item.high for item in mine),
    )
