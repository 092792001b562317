"""The story of a rehearsal forgets the takes that were deleted."""

from __future__ import annotations

import pytest

from firmware.sheet.log_lines import event_record
from firmware.sheet.telling import Story, tell
from firmware.take_events import TakesDeleted, TakeStarted, TakeStopped


@pytest.mark.parametrize(("deleted", "left"), [(1, [2]), (2, [1]), (0, []), (3, [1, 2])])
def test_a_deleted_take_is_not_on_the_sheet(deleted: int, left: list[int]) -> None:
    story = Story()
    takes = [(TakeStarted(0, n, 0), TakeStopped(48_000 * n, n, 1.0, ())) for n in (1, 2)]
    for event in (*takes[0], *takes[1], TakesDeleted(99, deleted, 1)):
        record = event_record(event)
        assert record is not None
        story = tell(story, record) or story
    assert [take.number for take in story.rehearsal.takes] == left
