"""What the kernel's own tables say of sticks is read right, and trouble with them gets its line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from hardware.drivers.stick import MOUNT_LOOKS, FolderStick
from hardware.drivers.stick_mounts import mount_on, usb_disks


def disk(sysfs: Path, name: str, place: str, size: int = 4096, *, partition: bool = False) -> None:
    """A device as sysfs shows it: a link in class/block to a folder whose path tells how it is connected."""
    real = sysfs / "devices" / place / name
    real.mkdir(parents=True)
    (real / "size").write_text(f"{size}\n")
    if partition:
        (real / "partition").write_text("1\n")
    links = sysfs / "block"
    links.mkdir(exist_ok=True)
    (links / name).symlink_to(os.path.relpath(real, links))


@pytest.fixture
def stick(tmp_path: Path) -> FolderStick:
    (tmp_path / "stick").mkdir()
    (tmp_path / "block").mkdir()
    (tmp_path / "mounts").write_text("")
    return FolderStick(
        tmp_path / "stick" / "KEELNOTE", mounted=True, mounts=tmp_path / "mounts", block_devices=tmp_path / "block"
    )


def mounted(tmp_path: Path, options: str = "rw") -> None:
    (tmp_path / "mounts").write_text(f"/dev/null {tmp_path}/stick vfat {options},noatime 0 0\n")


def test_the_last_mount_on_a_folder_counts_with_its_options(tmp_path: Path) -> None:
    table = tmp_path / "mounts"
    table.write_text(
        "/dev/sda1 /media/my\\040stick vfat rw,errors=ro 0 0\n/dev/sdb1 /media/my\\040stick vfat ro 0 0\n\n"
    )
    found = mount_on(Path("/media/my stick"), table)
    assert found is not None
    assert (found.device, found.read_only, found.there) == ("/dev/sdb1", True, False)
    assert mount_on(Path("/media"), table) is None


def test_usb_disks_are_told_from_cards_partitions_and_empty_readers(tmp_path: Path) -> None:
    disk(tmp_path, "mmcblk0", "platform/soc/mmc_host/mmc0/block")
    disk(tmp_path, "sda", "platform/soc/usb1/1-1/host0/block")
    disk(tmp_path, "sda1", "platform/soc/usb1/1-1/host0/block/sda-in", partition=True)
    disk(tmp_path, "sdb", "platform/soc/usb1/1-2/host1/block", size=0)
    disk(tmp_path, "sdc", "platform/soc/usb2/2-1/host2/block")
    assert usb_disks(tmp_path / "block") == ("sda", "sdc")
    assert usb_disks(tmp_path / "none") == ()


def test_a_stick_that_is_in_but_never_mounted_is_called_unknown(tmp_path: Path, stick: FolderStick) -> None:
    assert stick.trouble() == "stick-out"
    disk(tmp_path, "sda", "usb1/1-1")
    assert [stick.trouble() for _ in range(MOUNT_LOOKS)] == ["stick-out"] * MOUNT_LOOKS
    assert stick.trouble() == "stick-unknown"
    mounted(tmp_path)
    assert stick.trouble() == ""


def test_a_second_stick_and_a_locked_one_get_their_lines(tmp_path: Path, stick: FolderStick) -> None:
    mounted(tmp_path)
    disk(tmp_path, "sda", "usb1/1-1")
    assert stick.trouble() == ""
    disk(tmp_path, "sdb", "usb1/1-2")
    assert stick.trouble() == "stick-two"
    mounted(tmp_path, "ro")
    assert stick.trouble() == "stick-read-only"


def test_what_has_the_name_of_the_boxs_own_files_is_told(tmp_path: Path, stick: FolderStick) -> None:
    mounted(tmp_path)
    stick.write_text("report.txt", "")
    assert stick.odd() == ()
    (stick.root / "settings.toml").mkdir()
    (stick.root / "plans").write_text("")
    (stick.root / "grooves").symlink_to(tmp_path)
    assert stick.odd() == ("settings.toml", "plans", "grooves")
    assert stick.trouble() == "stick-odd"


def test_a_file_in_the_place_of_the_whole_folder_is_told(tmp_path: Path, stick: FolderStick) -> None:
    mounted(tmp_path)
    stick.root.write_text("not ours")
    assert stick.odd() == ("KEELNOTE",)
    assert stick.trouble() == "stick-odd"
    (tmp_path / "stick" / "KEELNOTE").unlink()
    stick.root.symlink_to(tmp_path)
    assert stick.odd() == ("KEELNOTE",)


def test_a_mount_point_that_is_only_opened_for_writing_is_no_stick(tmp_path: Path) -> None:
    table = tmp_path / "mounts"
    table.write_text("overlay / overlay rw 0 0\ntmpfs /run tmpfs rw 0 0\noverlay /media/keelnote overlay rw 0 0\n")
    assert mount_on(Path("/media/keelnote"), table) is None
    with table.open("a") as more:
        more.write("/dev/sda1 /media/keelnote vfat rw 0 0\n")
    found = mount_on(Path("/media/keelnote"), table)
    assert found is not None
    assert found.device == "/dev/sda1"


def test_a_stick_that_was_let_go_may_be_pulled_until_it_is_out(stick: FolderStick, tmp_path: Path) -> None:
    disk(tmp_path, "sda", "platform/soc/usb1/1-1/host0/block")
    mounted(tmp_path)
    asked = []

    def unmount() -> None:
        asked.append(True)
        (tmp_path / "mounts").write_text("")

    stick._unmount = unmount
    stick.release()
    assert asked == [True]
    assert [stick.trouble() for _ in range(2 * MOUNT_LOOKS)] == ["stick-released"] * 2 * MOUNT_LOOKS
    (tmp_path / "block" / "sda").unlink()
    assert stick.trouble() == "stick-out"
    mounted(tmp_path)
    assert stick.present
    assert stick.trouble() == ""


def test_a_stick_that_was_let_go_and_is_mounted_again_is_used_again(stick: FolderStick, tmp_path: Path) -> None:
    disk(tmp_path, "sda", "platform/soc/usb1/1-1/host0/block")
    mounted(tmp_path)
    stick._unmount = lambda: (tmp_path / "mounts").write_text("") and None
    stick.release()
    assert stick.trouble() == "stick-released"
    mounted(tmp_path)
    assert (stick.present, stick.trouble()) == (True, "")
