"""The bill of materials: every mark of the wiring is bought once, sums add up, and a bad line is named."""

from __future__ import annotations

import csv
import io
from collections import Counter

import pytest

from firmware.errors import BadEntryError
from hardware.board.bill import COLUMNS, own_bill, read_bill, total
from hardware.board.nets import parts_of
from hardware.board.table import own_board

HEAD = ",".join(COLUMNS)
GOOD = "D1,LED,AB,1,0.05,0.2,2026-11 from memory,any"


@pytest.mark.parametrize("variant", ["A", "B"])
def test_every_part_of_the_wiring_is_bought_once_and_no_other_has_a_mark(variant: str) -> None:
    bought = Counter(mark for item in own_bill() if variant in item.variants for mark in item.marks)
    assert bought == Counter(part.mark for part in parts_of(own_board(variant)))


def test_values_of_bought_resistors_and_capacitors_are_those_of_the_wiring() -> None:
    values = {part.mark: part.value for part in parts_of(own_board())}
    for item in own_bill():
        for mark in item.marks:
            if mark[0] in "RC":
                assert values[mark] in item.part, mark


@pytest.mark.parametrize("variant", ["A", "B"])
def test_the_sum_is_that_of_the_lines(variant: str) -> None:
    low, high = total(own_bill(), variant)
    assert 100 < low < high < 500
    assert total(own_bill(), variant, 10) == pytest.approx((10 * low, 10 * high))
    assert total(read_bill(f"{HEAD}\n{GOOD}\n{GOOD.replace('D1', 'D2').replace('AB', 'A')}\n", "x"), "A") == (
        pytest.approx((0.1, 0.4))
    )


def test_each_line_says_when_its_price_was_known_and_what_else_does() -> None:
    for item in own_bill():
        assert item.priced.startswith("20")
        assert item.instead
        assert item.low <= item.high


@pytest.mark.parametrize(
    ("line", "key"),
    [
        (GOOD.replace("AB", "C"), "variants"),
        (GOOD.replace("0.05", "cheap"), "low_eur"),
        (GOOD.replace("0.05", "nan"), "low_eur"),
        (GOOD.replace("0.2,", "0.01,"), "high_eur"),
        (GOOD.replace(",1,", ",-1,"), "quantity"),
        (GOOD.replace(",1,", ",2,"), "quantity"),
        (GOOD.replace("LED", " "), "part"),
        (GOOD.replace("2026-11 from memory", ""), "priced"),
        ("D1,LED", "columns"),
        (GOOD + ",more", "columns"),
    ],
)
def test_a_bad_line_is_named(line: str, key: str) -> None:
    with pytest.raises(BadEntryError) as caught:
        read_bill(f"{HEAD}\n{GOOD.replace('D1', 'D9')}\n{line}\n", "bill.csv")
    assert "bill.csv, line 3" in caught.value.text
    assert key in caught.value.text


def test_other_columns_are_named() -> None:
    with pytest.raises(BadEntryError, match="columns"):
        read_bill("mark,price\nD1,1\n", "bill.csv")
    assert next(csv.reader(io.StringIO(HEAD))) == list(COLUMNS)
