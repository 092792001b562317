"""Events keep all but their places on the clock."""

from __future__ import annotations

from firmware.event_times import later
from firmware.heard_events import ChordHeld, Heard, Onset


def test_places_move_and_lengths_do_not() -> None:
    assert later(Heard(5, 440.0, 0.9, -20.0), 100) == Heard(105, 440.0, 0.9, -20.0)
    assert later(Onset(5, -20.0, late=7), 100) == Onset(105, -20.0, late=7)
    assert later(ChordHeld(50, 10, "C", "1", 2.0, ()), -10) == ChordHeld(40, 0, "C", "1", 2.0, ())
