"""When the music begins again after a rest, from levels ten times a second."""

from __future__ import annotations

from itertools import chain, repeat

import numpy as np
import pytest

from firmware.takes.rests import RestState, Resumed, step

SPAN = 4800


def told(*levels: tuple[float, float], jitter: float = 0.0) -> list[Resumed]:
    """What is told of stretches of (seconds, dB)."""
    rng = np.random.default_rng(5)
    state, found = RestState(), []
    whole = chain.from_iterable(repeat(db, round(10 * seconds)) for seconds, db in levels)
    for number, db in enumerate(whole, start=1):
        state, resumed = step(state, number * SPAN, db + rng.normal(0.0, jitter), SPAN)
        found += [resumed] if resumed is not None else []
    return found


@pytest.mark.parametrize("jitter", [0.0, 1.0])
def test_music_after_a_rest_is_found_where_it_begins(jitter: float) -> None:
    (before, one) = told((10, -60), (20, -25), (7, -60), (20, -25), jitter=jitter)
    assert (before.since, before.rest) == (100 * SPAN, 100 * SPAN)
    assert one.since == 370 * SPAN
    assert one.rest == pytest.approx(70 * SPAN, abs=5 * SPAN)


def test_soft_and_loud_music_makes_no_rest() -> None:
    assert len(told((10, -60), (20, -25), (20, -45), (20, -20), (10, -40), (9, -25))) == 1


def test_a_knock_or_a_click_does_not_end_a_rest() -> None:
    clicks = ((0.5, -58), (0.1, -30)) * 20
    (_, one) = told((10, -60), (20, -25), *clicks, (5, -25))
    assert one.rest == pytest.approx(120 * SPAN, abs=12 * SPAN)


def test_talking_is_no_rest() -> None:
    talk = ((0.7, -38.0), (0.3, -55.0)) * 12
    assert len(told((10, -60), (20, -25), *talk, (20, -25))) == 1


def test_a_rest_that_ends_softly_and_comes_back_counts_from_there() -> None:
    found = told((10, -60), (20, -25), (6, -60), (3, -52), (5, -60), (9, -25))
    assert [round(one.rest / SPAN / 10) for one in found[1:]] == [5]


def test_the_floor_of_long_ago_does_not_count() -> None:
    # a fan comes on: after two minutes its noise is the floor, and the time since then a rest
    found = told((10, -60), (130, -45), (20, -20), (8, -45), (9, -20))
    assert [round(one.rest / SPAN / 10) for one in found[1:]] == [11, 8]
