"""The queue before the disk: what fits, what is dropped, and what a dropped chunk leaves behind."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firmware.commands import AppendLine
from firmware.takes.recorder import Chunk
from hardware.drivers.disk_queue import ROOM_COMMANDS, DiskQueue

LINE = AppendLine("log", "line")


def chunk(samples: int, *, last: bool = False) -> Chunk:
    return Chunk(1, samples, np.ones(samples, dtype=np.float32), last)


def test_jobs_come_out_in_their_order() -> None:
    queue = DiskQueue(100)
    jobs = [LINE, chunk(10), AppendLine("log", "more")]
    assert all(queue.put(job) for job in jobs)
    assert queue.waiting == 10
    assert [queue.take() for _ in jobs] == jobs
    assert queue.waiting == 0
    assert not queue


def test_sound_without_room_is_dropped_and_its_end_is_kept() -> None:
    queue = DiskQueue(100)
    assert queue.put(chunk(90))
    assert not queue.put(chunk(20))
    assert not queue.put(chunk(30, last=True))
    queue.take()
    end = queue.take()
    assert isinstance(end, Chunk)
    assert (end.last, end.end, len(end.samples)) == (True, 60, 0)
    assert not queue
    assert queue.dropped_sound == 50
    assert queue.newly_dropped() == (50, 0)
    assert queue.newly_dropped() == (0, 0)


def test_commands_without_room_are_counted_with_those_that_were_given_up() -> None:
    queue = DiskQueue(0)
    assert all(queue.put(LINE) for _ in range(ROOM_COMMANDS))
    assert not queue.put(LINE)
    queue.given_up += 2
    assert queue.dropped_commands == 3
    assert queue.newly_dropped() == (0, 3)
    queue.take()
    assert queue.put(LINE)


@given(st.lists(st.one_of(st.integers(0, 60), st.none()), max_size=80))
def test_never_more_waits_than_there_is_room_for(steps: list[int | None]) -> None:
    queue = DiskQueue(100)
    offered = taken = 0
    for step in steps:
        if step is None:
            if queue:
                taken += len(queue.take().samples)
        else:
            queue.put(chunk(step))
            offered += step
        assert 0 <= queue.waiting <= 100
    while queue:
        taken += len(queue.take().samples)
    assert taken + queue.dropped_sound == offered
