"""The ring that holds the microphone's last seconds."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.takes.preroll import Ring


def counted(first: int, end: int):
    return np.arange(first, end, dtype=np.float32)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 50), st.lists(st.integers(0, 50), max_size=30), st.data())
def test_whatever_is_in_the_ring_is_the_stream_itself(capacity: int, blocks: list[int], data: st.DataObject):
    ring = Ring(capacity)
    for block in blocks:
        size = min(block, capacity)
        ring.write(counted(ring.end, ring.end + size))
        first = data.draw(st.integers(ring.oldest, ring.end))
        end = data.draw(st.integers(first, ring.end))
        assert ring.copy(first, end).tolist() == list(range(first, end))
    assert ring.end - ring.oldest == min(ring.end, capacity)


def test_a_copy_does_not_change_when_the_ring_is_written_on():
    ring = Ring(4)
    ring.write(counted(0, 4))
    copy = ring.copy(0, 4)
    ring.write(counted(4, 8))
    assert copy.tolist() == [0, 1, 2, 3]


def test_lost_and_future_samples_are_refused_rather_than_made_up():
    ring = Ring(4)
    ring.write(counted(0, 4))
    ring.write(counted(4, 6))
    assert (ring.oldest, ring.end, ring.capacity) == (2, 6, 4)
    for first, end in ((1, 3), (2, 7), (5, 4)):
        with pytest.raises(ValueError, match="not among 2 to 6"):
            ring.copy(first, end)


def test_more_than_fits_at_once_is_refused():
    with pytest.raises(ValueError, match="5 samples"):
        Ring(4).write(counted(0, 5))
    with pytest.raises(ValueError, match="at least one"):
        Ring(0)
