"""Slots: what chooses them, what tells them apart, and that one sector decides."""

from __future__ import annotations

import configparser
from pathlib import Path

import pytest

from hardware.update.slots import NAMES, Where, for_slot, other, read_where, reboot_argument, selected, selecting


def test_where_the_system_came_from_is_read() -> None:
    where = read_where("SLOT=3\nDISK=/dev/mmcblk0\nPART=/dev/mmcblk0p\n")
    assert where == Where(3, "/dev/mmcblk0p")
    assert where.other == 2
    assert where.device(2) == Path("/dev/mmcblk0p2")


@pytest.mark.parametrize("text", ["", "SLOT=1\nPART=/dev/vda\n", "SLOT=2\n", "PART=/dev/vda\n"])
def test_a_place_that_is_no_slot_is_an_error(text: str) -> None:
    with pytest.raises(ValueError, match="no slot in"):
        read_where(text)


@pytest.mark.parametrize("slot", NAMES)
def test_the_text_starts_a_slot_and_tries_the_other(slot: int) -> None:
    # The format is that of INI files (Raspberry Pi documentation, "config.txt", conditional filters).
    read = configparser.ConfigParser()
    read.read_string(selecting(slot))
    assert read.getint("all", "boot_partition") == slot
    assert read.getint("tryboot", "boot_partition") == other(slot) != slot
    assert read.getint("all", "tryboot_a_b") == 1
    assert selected(selecting(slot)) == slot


def test_both_texts_are_as_long_and_fit_a_sector() -> None:
    # Raspberry Pi documentation, "autoboot.txt": at most 512 bytes.
    assert len({len(selecting(slot)) for slot in NAMES}) == 1
    assert len(selecting(2)) <= 512


def test_the_image_begins_with_slot_a() -> None:
    text = (Path(__file__).parents[3] / "image-build/boot/autoboot.txt").read_text(encoding="ascii")
    assert selected(text) == 2


def test_any_other_text_starts_no_slot() -> None:
    assert selected("[all]\nboot_partition=2\n") is None


def test_the_kernels_arguments_are_made_to_fit_a_slot() -> None:
    line = (Path(__file__).parents[3] / "image-build/boot/cmdline.txt").read_text(encoding="ascii")
    moved = for_slot(line, 3)
    assert moved is not None
    assert "keelnote.slot=3 rauc.slot=B" in moved
    assert len(moved) == len(line)
    assert for_slot(moved, 2) == line
    assert for_slot("quiet", 3) is None


@pytest.mark.parametrize(
    ("boards", "told"),
    [
        ("raspberrypi,4-model-b\0brcm,bcm2711\0", "0 tryboot"),
        ("raspberrypi,model-zero-2-w\0brcm,bcm2837\0", "3"),
        ("raspberrypi,3-model-a-plus\0brcm,bcm2837\0", "3"),
        ("linux,dummy-virt\0", "3"),
    ],
)
def test_a_reboot_is_told_in_the_way_that_the_board_understands(boards: str, told: str) -> None:
    # Names as in the device trees of Linux 6.12 (arch/arm/boot/dts/broadcom), which the image brings.
    assert reboot_argument(3, boards) == told
