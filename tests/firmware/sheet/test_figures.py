"""The figures of the sheet."""

from collections.abc import Callable

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sheet.figures import by_degree, degree_order, furthest_off, key_times, spans
from firmware.sheet.rehearsal import HeldNote, KeySpan, Rehearsal


def test_degrees_stand_in_the_order_of_the_scale():
    labels = ["7", "♯4", "5", "♭3", "1", "3", "4", "?", "♭7", "2"]
    assert sorted(labels, key=degree_order) == ["1", "2", "♭3", "3", "4", "♯4", "5", "♭7", "7", "?"]


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(-50, 50), min_size=1, max_size=30))
def test_median_and_quartiles_are_numpys(note: Callable[..., HeldNote], cents: list[float]):
    """NumPy's default percentile (linear, ends included) is the outside measure."""
    (figure,) = by_degree(note(float(index), "3", value) for index, value in enumerate(cents))
    expected = np.percentile(cents, (25, 50, 75))
    assert np.allclose((figure.low, figure.median, figure.high), expected, atol=1e-9)
    assert figure.count == len(cents)


def test_rest_is_counted_and_timed(rehearsal: Rehearsal):
    third = next(figure for figure in by_degree(rehearsal.notes) if figure.degree == "3")
    assert (third.count, third.settled, third.settled_after_s) == (3, 1, 1.2)
    seventh = next(figure for figure in by_degree(rehearsal.notes) if figure.degree == "♭7")
    assert (seventh.settled, seventh.settled_after_s, seventh.low, seventh.high) == (0, None, -22.0, -22.0)


def test_the_furthest_notes_come_first_and_those_in_tune_not_at_all(rehearsal: Rehearsal):
    assert [note.median_cents for note in furthest_off(rehearsal.notes, 5.0)] == [-22.0, 14.0, 12.0]
    assert len(furthest_off(rehearsal.notes, 5.0, most=1)) == 1
    assert furthest_off(rehearsal.notes, 30.0) == ()


def test_a_key_lasts_until_the_next_one(rehearsal: Rehearsal):
    assert [(span.key, end) for span, end in spans(rehearsal)] == [
        ("B♭ major", 5.0),
        ("B♭ major", 60.0),
        ("E♭ major", 90.0),
    ]
    longest, other = key_times(rehearsal)
    assert (longest.key, longest.seconds, longest.sounding) == ("B♭ major", 60.0, 55.0)
    assert (other.key, other.seconds, other.sounding) == ("E♭ major", 30.0, 30.0)


def test_a_key_that_lasted_no_time_is_left_out():
    passing = Rehearsal(
        1, seconds=10.0, keys=(KeySpan(0.0, "C major"), KeySpan(0.0, "G major"), KeySpan(12.0, "D major"))
    )
    assert [span.key for span, _ in spans(passing)] == ["G major"]
