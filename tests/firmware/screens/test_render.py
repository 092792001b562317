"""Whole pictures: as they were agreed on, large enough to read, and never failing."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.screens.gallery import GALLERY
from firmware.screens.pages import PAGES
from firmware.screens.raster import frame_of
from firmware.screens.render import paint, render
from firmware.screens.view import HeardNote, Rung, TakeLine, TrailPoint, View

GOLDEN = Path(__file__).parents[2] / "golden"
LARGEST = 2048


@pytest.mark.parametrize(("name", "view"), GALLERY, ids=[name for name, _ in GALLERY])
def test_the_picture_is_the_agreed_one(name: str, view: View) -> None:
    golden = GOLDEN / f"{name}.png"
    assert render(view) == frame_of(golden.read_bytes()), "if this is wanted: python -m tests.generate"
    assert golden.stat().st_size <= LARGEST


def test_no_golden_picture_is_left_over() -> None:
    assert {path.stem for path in GOLDEN.glob("*.png")} == {name for name, _ in GALLERY}


@pytest.mark.parametrize(("name", "view"), GALLERY, ids=[name for name, _ in GALLERY])
def test_no_text_of_the_gallery_is_cut(name: str, view: View) -> None:
    assert paint(view).cuts == [], name


def tall(before: Any, after: Any) -> int:  # noqa: ANN401 - arrays of truth values
    """Rows from the first to the last in which two pictures differ."""
    rows = (before != after).any(axis=1).nonzero()[0]
    return int(rows.max() - rows.min() + 1)


def test_what_matters_most_is_large(view: View, dots: Callable[..., Any]) -> None:
    def shown(**change: Any) -> Any:  # noqa: ANN401 - any field of a view
        return dots(render(replace(view, **change)))

    keys = {"page": "key", "cursor": "mode"}
    assert tall(shown(**keys, tonic="C"), shown(**keys, tonic="F♯")) >= 28
    beats = {"page": "pulse", "pulse_on": True, "beats": 1}
    assert tall(shown(**beats, beat=1)[:48], shown(**beats, beat=8)[:48]) >= 28
    minus, plus = (HeardNote("D4", "D4", "3", off, None, 386.0) for off in (-8.0, 8.0))
    ear = {"page": "ear", "ear": "watch"}
    columns = slice(74, 126)
    blank = shown(**ear, heard=replace(minus, off=-1.0))[:, columns]
    assert tall(shown(**ear, heard=plus)[:, columns], blank) >= 20


def test_an_unknown_page_shows_the_first() -> None:
    assert render(View(page="?")) == render(View(page=PAGES[0].name))


texts = st.text(max_size=30)
numbers = st.floats(-2000, 2000)
views = st.builds(
    View,
    page=st.sampled_from([page.name for page in PAGES]),
    cursor=texts,
    tonic=texts,
    mode=texts,
    comparing=texts,
    chord=st.lists(texts, max_size=8).map(tuple),
    rungs=st.lists(st.builds(Rung, texts, texts, numbers, numbers, st.floats(-1, 2)), max_size=5).map(tuple),
    trail=st.lists(st.builds(TrailPoint, st.floats(-1, 9), numbers), max_size=9).map(tuple),
    heard=st.none() | st.builds(HeardNote, texts, texts, texts, numbers, st.none() | st.floats(0, 500), numbers),
    silence=texts,
    badge=texts,
    pulse_on=st.booleans(),
    bar=st.integers(0, 10**6),
    beat=st.integers(0, 99),
    beats=st.integers(0, 99),
    tempo=st.floats(0, 1000),
    taking=st.booleans(),
    take_seconds=st.floats(0, 10**6),
    takes=st.lists(st.builds(TakeLine, st.integers(0, 5), st.floats(0, 10**5), st.integers(0, 999)), max_size=3).map(
        tuple
    ),
    chosen_take=st.integers(0, 5),
    stick=st.booleans(),
    free_minutes=st.integers(0, 10**9),
    mic_peak_db=st.floats(-200, 20),
    plan_title=texts,
    message=texts,
)


@given(views)
def test_any_view_can_be_drawn(view: View) -> None:
    assert render(view)


def test_equal_views_give_equal_frames() -> None:
    assert all(render(view) == render(view) for _, view in GALLERY)


def test_a_picture_takes_less_than_two_milliseconds_as_a_rule() -> None:
    # Two and not one, the aim: the machine that tests may be slower. Its other work doesn't count.
    times = []
    for _, view in GALLERY * 3:
        start = time.thread_time()
        render(view)
        times.append(time.thread_time() - start)
    assert median(times) < 0.002
