"""What the log says of a chord that moved: what is damaged is refused, in one way or another, and never believed."""

from __future__ import annotations

import pytest

from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.sheet.harmony_record import MOST, harmony_record, held_of, own_of


def test_a_plain_harmony_says_nothing_more() -> None:
    assert harmony_record(Harmony(key_of("C"))) == {}
    assert held_of({}) is None
    assert own_of({}, "just") is None


@pytest.mark.parametrize(
    ("members", "voices"),
    [
        ([[0, 0, "1", 0, "1"]], [[999, "1"]]),
        ([[9, 0, "1", 0, "1"]], [[0, "1"]]),
        ([[0, 0, "1", 0]], [[0, "1"]]),
        ([[0, 0, "loud", 0, "1"]], [[0, "1"]]),
        ("members", []),
        ([], [[0, "1"]] * (MOST + 1)),
    ],
)
def test_what_is_damaged_is_refused(members: object, voices: object) -> None:
    held = {"chord": "I", "root": 0, "members": members, "voices": voices, "drift": 0.0}
    with pytest.raises((ValueError, TypeError, KeyError)):
        held_of({"held": held})
