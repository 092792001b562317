"""What is said of a box: versions, never a serial number or an address."""

from __future__ import annotations

import re
from pathlib import Path

from hardware.board.table import own_board
from hardware.board_facts import board_facts

SERIAL = "10000000abcdef42"
ADDRESS = "dc:a6:32:01:02:03"


def made(root: Path) -> Path:
    """A system that holds much that must not be told."""
    for path, text in (
        ("proc/device-tree/model", "A board computer Rev 1.4\0"),
        ("proc/device-tree/serial-number", SERIAL),
        ("proc/cpuinfo", f"Serial\t\t: {SERIAL}\nModel\t\t: A board computer\n"),
        ("sys/class/net/eth0/address", ADDRESS),
        ("etc/machine-id", SERIAL * 2),
        ("etc/hostname", "room-12"),
        ("etc/os-release", 'NAME="x"\nPRETTY_NAME="A system 13"\n'),
    ):
        place = root / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text, encoding="utf-8")
    return root


def test_kinds_and_versions_are_told(tmp_path: Path) -> None:
    told = dict(board_facts(own_board("B"), made(tmp_path)))
    assert told["board"] == "Keelnote board, variant B: I2S DAC with USB microphone"
    assert told["computer"] == "A board computer Rev 1.4"
    assert told["system"] == "A system 13"
    assert {"kernel", "Python", "numpy"} <= set(told)


def test_nothing_tells_one_box_from_another(tmp_path: Path) -> None:
    text = repr(board_facts(own_board(), made(tmp_path)))
    for secret in (SERIAL, ADDRESS, "room-12"):
        assert secret not in text
    assert not re.search(r"([0-9a-fA-F]{2}:){5}[0-9a-fA-F]{2}", text)


def test_a_system_without_those_files_is_told_with_less(tmp_path: Path) -> None:
    assert "computer" not in dict(board_facts(own_board(), tmp_path))
