"""Single files on a FAT32 partition that mtools made: found, read, overwritten, and nothing else touched."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from hardware.update import fat
from hardware.update.slots import selecting
from tests.hardware.update.cards import made_by_tools, partition, selector

pytestmark = made_by_tools


def shown(device: Path, name: str) -> bytes:
    return subprocess.run(["mtype", "-i", device, f"::{name}"], capture_output=True, check=True).stdout


def test_a_file_is_read_as_mtools_reads_it(tmp_path: Path) -> None:
    device = selector(tmp_path / "p1", 2)
    assert fat.read(device, "autoboot.txt") == selecting(2) == shown(device, "autoboot.txt").decode()


def test_one_sector_changes_and_no_other(tmp_path: Path) -> None:
    device = selector(tmp_path / "p1", 2)
    before = device.read_bytes()
    fat.overwrite(device, "autoboot.txt", selecting(3))
    after = device.read_bytes()
    changed = [at for at in range(0, len(before), fat.SECTOR) if before[at : at + 512] != after[at : at + 512]]
    assert changed == [fat.place_of(device, "autoboot.txt").at]
    assert shown(device, "autoboot.txt").decode() == selecting(3)


def test_a_file_in_a_later_cluster_of_the_folder_is_found(tmp_path: Path) -> None:
    # With clusters of one sector, sixteen entries fill one of the folder's.
    device = partition(tmp_path / "p", {f"f{number}.txt": b"x" for number in range(40)} | {"last.txt": b"found"})
    assert fat.read(device, "last.txt") == "found"


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("autoboot.txt", "short", "bytes, not 5"),
        ("absent.txt", "", "has no absent.txt"),
        ("bootcode.bin", "", "not of 1 to 512"),
    ],
)
def test_what_would_change_more_is_refused(tmp_path: Path, name: str, text: str, words: str) -> None:
    device = selector(tmp_path / "p1", 2)
    before = device.read_bytes()
    with pytest.raises(ValueError, match=words):
        fat.overwrite(device, name, text)
    assert device.read_bytes() == before


def test_what_is_no_fat32_is_refused(tmp_path: Path) -> None:
    device = tmp_path / "zeros"
    device.write_bytes(bytes(4096))
    with pytest.raises(ValueError, match="no FAT32"):
        fat.read(device, "autoboot.txt")


def test_a_folder_that_is_a_ring_ends(tmp_path: Path) -> None:
    device = selector(tmp_path / "p1", 2)
    data = bytearray(device.read_bytes())
    table = int.from_bytes(data[14:16], "little") * 512
    data[table + 8 : table + 12] = (2).to_bytes(4, "little")  # cluster 2, the folder's, is followed by itself
    device.write_bytes(data)
    with pytest.raises(ValueError, match="has no absent"):
        fat.read(device, "absent.txt")
