"""A take in several files: names, order, and which file a sample is in."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.takes.parts import (
    FILE_LIMIT,
    PartName,
    longest_part,
    part_name,
    part_path,
    parts_of,
    place_in,
    takes_in,
)
from firmware.units import RATE


@given(st.integers(1, 999_999), st.integers(1, 999_999))
def test_every_name_is_read_back(number: int, part: int) -> None:
    assert part_name(part_path(f"take-{number:02d}.flac", part)) == PartName(number, part)


@pytest.mark.parametrize(
    "name", ["take-1.flac", "take-01.vtt", "take-01-0.flac", "take-01-1.flac", "take-01-02.flac", "x-take-01.flac", ""]
)
def test_other_names_are_none(name: str) -> None:
    assert part_name(name) is None


def test_parts_come_in_the_order_of_their_numbers() -> None:
    names = ["take-01-10.flac", "take-01-2.flac", "take-01.flac", "take-011.flac", "take-01.vtt", "take-001-3.flac"]
    whole = ("a b/take-01.flac", "a b/take-01-2.flac", "a b/take-01-10.flac")
    assert parts_of("a b/take-01.flac", names) == whole
    assert parts_of("take-01.flac", names) == ("take-01.flac", "take-01-2.flac", "take-01-10.flac")
    assert parts_of("a/take-01-2.flac", names) == ("a/take-01-2.flac",), "a later part stands for itself"
    assert parts_of("a/take-07.flac", names) == ("a/take-07.flac",), "one that is not there stays what was asked for"
    assert parts_of("a/chorale.flac", names) == ("a/chorale.flac",)


def test_a_take_whose_first_file_is_on_another_stick_has_its_other_parts() -> None:
    assert parts_of("take-01.flac", ["take-01-2.flac"]) == ("take-01-2.flac",)


def test_takes_in_a_folder() -> None:
    names = ["take-02.flac", "take-01-10.flac", "take-01-9.flac", "take-01.flac", "take-01.vtt", "log.jsonl"]
    assert takes_in(names) == {1: ("take-01.flac", "take-01-9.flac", "take-01-10.flac"), 2: ("take-02.flac",)}


@given(st.lists(st.integers(0, 9), max_size=6), st.integers(0, 60))
def test_a_sample_is_in_the_part_that_holds_it(lengths: list[int], sample: int) -> None:
    flat = [(part, place) for part, length in enumerate(lengths) for place in range(length)]
    assert place_in(lengths, sample) == (flat[sample] if sample < len(flat) else None)


@pytest.mark.parametrize("channels", [1, 2])
def test_the_longest_part_fits_fat32_even_if_nothing_can_be_compressed(channels: int) -> None:
    """RFC 9639: a verbatim subframe is one byte of header and the samples; a frame has a header of 16 bytes at most."""
    frames = longest_part(channels) / 4096
    assert frames * (16 + channels * (1 + 3 * 4096) + 2) < FILE_LIMIT
    assert longest_part(channels) > 4 * 3600 * RATE


def test_a_chosen_length_is_kept_unless_it_is_too_long() -> None:
    assert longest_part(1, 20) == 20 * 60 * RATE
    assert longest_part(2, 100_000) == longest_part(2)
