"""Grooves and pieces on the stick: good ones are found, broken ones are named with their line and left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from firmware.settings import DEFAULTS
from hardware.drivers.stick import FolderStick
from hardware.rhythms import MOST_FILES, rhythms_on
from hardware.simulated.stick import SimulatedStick
from hardware.switch_on import switch_on

GOOD = 'meter = "2/4"\nsteps = 1\n[[line]]\nsound = "bass"\npattern = "Xx"\n'
MIDI = bytes.fromhex(
    "4d546864 00000006 0000 0001 01e0 4d54726b 00000018 00ff580403021808 00ff510307a120 0099247f 8b20ff2f00"
)
"""3/4 at 120, one bass drum, one bar of 1440 ticks."""


@pytest.fixture
def stick(tmp_path: Path) -> FolderStick:
    """A stick with a folder for grooves and one for plans."""
    for folder in ("grooves", "plans"):
        (tmp_path / "KEELNOTE" / folder).mkdir(parents=True)
    return FolderStick(tmp_path / "KEELNOTE")


def test_grooves_and_pieces_are_found(stick: FolderStick) -> None:
    (stick.root / "grooves" / "Quay Street.toml").write_text(GOOD, encoding="utf-8")
    (stick.root / "grooves" / "ferry.MID").write_bytes(MIDI)
    (stick.root / "grooves" / "._ferry.mid").write_bytes(b"what a computer leaves")
    (stick.root / "grooves" / "readme.txt").write_text("nothing", encoding="utf-8")
    (stick.root / "plans" / "Hymn.mid").write_bytes(MIDI)
    (stick.root / "plans" / "tuesday.toml").write_text("", encoding="utf-8")
    rhythms, problems = rhythms_on(stick)
    assert problems == ()
    assert [groove.name for groove in rhythms.grooves] == ["Quay Street", "ferry"]
    assert [(piece.name, piece.program.length, piece.program.seconds) for piece in rhythms.pieces] == [("Hymn", 1, 1.5)]
    for name in rhythms.names:
        assert DEFAULTS.put("groove", name).text("groove") == name


def test_a_broken_groove_is_named_with_its_line_and_left_out(stick: FolderStick) -> None:
    (stick.root / "grooves" / "bad.toml").write_text(GOOD.replace("Xx", "Xq"), encoding="utf-8")
    (stick.root / "grooves" / "bad bytes.toml").write_bytes(GOOD.encode() + b"\n\xff")
    (stick.root / "grooves" / "good.toml").write_text(GOOD, encoding="utf-8")
    (stick.root / "grooves" / "short.mid").write_bytes(MIDI[:-4])
    (stick.root / "grooves" / "click.toml").write_text(GOOD, encoding="utf-8")
    (stick.root / "plans" / "smpte.mid").write_bytes(MIDI[:12] + b"\xe7\x28" + MIDI[14:])
    found = switch_on(stick)
    assert [groove.name for groove in found.start.rhythms.grooves] == ["good"]
    # A piece among the plans is a plan as well, and neither can be read from this one.
    assert found.start.notices == ("plan-bad", "groove-bad")
    lines = "\n".join(found.report)
    for words in ("grooves/bad.toml, line 3", "bad bytes.toml", "short.mid, byte", "Rename", "SMPTE"):
        assert words in lines


def test_too_many_are_not_read(stick: FolderStick) -> None:
    for number in range(MOST_FILES + 3):
        (stick.root / "grooves" / f"{number:03d}.toml").write_text(GOOD, encoding="utf-8")
    rhythms, (problem,) = rhythms_on(stick)
    assert len(rhythms.grooves) == MOST_FILES
    assert str(MOST_FILES) in problem.text


def test_no_stick_has_no_grooves(tmp_path: Path) -> None:
    stick = SimulatedStick(tmp_path)
    stick.pull_out()
    assert rhythms_on(stick) == rhythms_on(FolderStick(tmp_path / "no" / "KEELNOTE"))
    assert rhythms_on(stick)[0].names[0] == "click"
