"""The inbox gives events back in order, and counts what it has no room for."""

from __future__ import annotations

from firmware.events import Tick
from hardware.inbox import Inbox


def test_events_come_out_in_order():
    inbox = Inbox()
    for at in range(3):
        inbox.post(Tick(at))
    assert len(inbox) == 3
    assert [inbox.next(0) for _ in range(4)] == [Tick(0), Tick(1), Tick(2), None]


def test_a_full_inbox_keeps_the_old_and_counts_the_new():
    inbox = Inbox(limit=2)
    for at in range(5):
        inbox.post(Tick(at))
    assert inbox.dropped == 3
    assert [inbox.next(0), inbox.next(0), inbox.next(0)] == [Tick(0), Tick(1), None]
