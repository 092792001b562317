"""The table of the script agrees with itself: every default would be accepted, every helper names what it allows."""

import pytest

from firmware.errors import OutOfRangeError, UnknownNameError
from firmware.plan.checked_toml import Entry, Section, check
from hardware.simulated.script_table import PLAY_TABLE, SCRIPT_TABLE


def entries(table: tuple[Entry | Section, ...]) -> list[Entry]:
    found = []
    for item in table:
        found += entries(item.table) if isinstance(item, Section) else [item]
    return found


@pytest.mark.parametrize("entry", entries(SCRIPT_TABLE), ids=lambda entry: entry.key)
def test_defaults_lie_in_their_own_range(entry: Entry):
    if entry.default is None:
        return
    shown = f"'{entry.default}'" if isinstance(entry.default, str) else str(entry.default).lower()
    assert check(f"{entry.key} = {shown}", "x", (entry,)).problems == ()


def test_keys_are_unique_in_each_table():
    tables = [SCRIPT_TABLE, *(item.table for item in SCRIPT_TABLE if isinstance(item, Section))]
    for table in tables:
        keys = [item.key for item in table]
        assert len(set(keys)) == len(keys)


@pytest.mark.parametrize(
    ("text", "degree"), [("1", "1"), ("b3", "♭3"), ("♭7", "♭7"), ("#4", "♯4"), ("♯4", "♯4"), ("7", "7")]
)
def test_degrees_are_written_either_way(text: str, degree: str):
    (entry,) = (entry for entry in entries(PLAY_TABLE) if entry.key == "degree")
    assert entry.convert is not None
    assert entry.convert(text) == degree


@pytest.mark.parametrize("text", ["", "0", "8", "bb3", "3b", "x", "11"])
def test_other_degrees_are_refused(text: str):
    (entry,) = (entry for entry in entries(PLAY_TABLE) if entry.key == "degree")
    assert entry.convert is not None
    with pytest.raises(OutOfRangeError, match="a digit from 1 to 7"):
        entry.convert(text)


def test_notes_are_read_with_their_octave():
    (entry,) = (entry for entry in entries(PLAY_TABLE) if entry.key == "note")
    assert entry.convert is not None
    assert entry.convert("bb4") == "B♭4"
    with pytest.raises(UnknownNameError):
        entry.convert("B")
