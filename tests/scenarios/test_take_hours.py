"""A take for hours: every sample accounted for, memory flat, nothing left open."""

from __future__ import annotations

import pytest

from tests.speed.take_hours import apart, evening


def test_five_minutes_in_parts_with_the_stick_pulled_twice() -> None:
    found = evening(300, 2, ((50, 80), (200, 230)))
    assert found["checksums_equal"]
    assert found["samples_in_the_parts"] == found["samples_heard"]
    assert found["samples_told_to_be_safe"] == [found["samples_heard"]]
    assert found["parts"] == 4
    assert found["dropped_samples"] == 0
    told = found["told"]
    assert isinstance(told, dict)
    assert (told["stick-out"], told["take-spooled"], told["take-joined"]) == (2, 2, 2)


@pytest.mark.long
def test_two_hours_leave_memory_descriptors_and_threads_as_they_were() -> None:
    """The program itself records eight, see tests/speed/results/take_hours.json."""
    found = apart(7200, 60, ())
    assert found["checksums_equal"]
    assert found["samples_in_the_parts"] == found["samples_heard"] == 7200 * 48_000
    memory = found["memory_range_mb"]
    assert isinstance(memory, float)
    assert memory <= 5.0
    assert len(found["descriptors"]) <= 2  # type: ignore[arg-type]  # figures are plain JSON
    assert found["threads"] == [2]
