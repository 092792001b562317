"""Groups of an ensemble: named by instruments in the plural, or by the director."""

from __future__ import annotations

import pytest

from firmware.errors import OutOfRangeError
from firmware.music.ensemble import GROUPS, LONGEST, group_text, groups_of, own_group, plural


@pytest.mark.parametrize(
    ("title", "several"),
    [
        ("clarinet", "clarinets"),
        ("horn in F", "horns"),
        ("tuba, bass clef", "tubas"),
        ("E♭ bass, treble clef", "E♭ basses"),
        ("oboe d'amore", "oboes d'amore"),
        ("timpani", "timpani"),
        ("piccolo trumpet in A", "piccolo trumpets"),
    ],
)
def test_instruments_become_sections(title: str, several: str):
    assert plural(title) == several


def test_each_group_is_named_once():
    assert groups_of(["clarinet", "clarinet in A", "tuba"]) == ("Clarinets", "Tubas")
    assert len(set(GROUPS)) == len(GROUPS)
    assert {"Everyone", "Clarinets", "Horns", "Basses", "Double basses"} <= set(GROUPS)
    assert all(len(group) <= LONGEST for group in GROUPS)


def test_a_group_has_its_number_when_there_are_several():
    assert group_text("Clarinets", 2) == "Clarinets 2"
    assert group_text("Everyone", 0) == "Everyone"


def test_a_name_of_ones_own_must_fit():
    assert own_group("Back row, left") == "Back row, left"
    for text in ("", "   ", "x" * (LONGEST + 1)):
        with pytest.raises(OutOfRangeError):
            own_group(text)
