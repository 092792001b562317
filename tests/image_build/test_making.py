"""The parts of the image's build that need no build: archive, layout, lists, contents, the firmware's choice."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import tarfile
from importlib.machinery import SourceFileLoader
from io import BytesIO
from pathlib import Path
from types import ModuleType

import pytest

from emulated.firmware import boot_partition, chosen
from hardware.update.judge import COMPATIBLE
from hardware.update.slots import selecting
from maker import layout
from maker.bundle import COMPATIBLE as SIGNED_FOR
from maker.contents import contents, licences_of
from maker.cpio import Archive
from maker.disk import cut_free_end
from maker.initrd import empty_keymap
from maker.inputs import HERE, hash_of, listed
from maker.kernel import BOARDS
from tests.hardware.update.cards import made_by_tools, slot


def test_the_archive_is_in_the_format_of_the_kernel() -> None:
    archive = Archive()
    archive.file("bin/tool", b"#!/bin/sh\n", 0o755)
    archive.link("bin/sh", "tool")
    archive.file("lib/a/b.txt", b"odd")
    data = archive.data()
    assert len(data) % 512 == 0
    # Linux, Documentation/driver-api/early-userspace/buffer-format: thirteen fields of eight digits after the magic.
    names, at = [], 0
    while True:
        head = data[at : at + 110]
        assert head[:6] == b"070701"
        field = [int(head[6 + 8 * k : 14 + 8 * k], 16) for k in range(13)]
        name = data[at + 110 : at + 110 + field[11] - 1].decode()
        start = at + 110 + field[11]
        start += -start % 4
        if name == "TRAILER!!!":
            break
        names.append((name, field[1], data[start : start + field[6]]))
        at = start + field[6] + -field[6] % 4
    assert ("bin/tool", 0o100755, b"#!/bin/sh\n") in names
    assert ("bin/sh", 0o120777, b"tool") in names
    assert ("lib/a/b.txt", 0o100644, b"odd") in names
    assert [name for name, mode, _ in names if mode == 0o040755] == ["bin", "lib", "lib/a"]


def test_the_partitions_lie_one_after_the_other_and_the_card_is_small_enough() -> None:
    ends = [part.start + part.size for part in layout.PARTITIONS]
    assert [part.start for part in layout.PARTITIONS] == [layout.MIB, *ends[:-1]]
    assert layout.SLOT_A.size == layout.SLOT_B.size
    assert layout.DISK_SECTORS * layout.SECTOR < 700_000_000


def test_the_initial_disk_grows_the_last_partition_by_its_entry_in_the_table() -> None:
    # Entries of a DOS partition table begin at byte 446, 16 bytes each; the length is 12 bytes in (common practice).
    script = (HERE / "initrd/init").read_text(encoding="utf-8")
    assert f"seek={446 + 16 * (layout.DATA.number - 1) + 12} " in script
    assert "skip=440 count=4" in script


@pytest.mark.parametrize(("tryboot", "slot"), [(False, 2), (True, 3)])
def test_the_firmware_takes_the_slot_that_is_written(tryboot: bool, slot: int) -> None:  # noqa: FBT001 - a table's row
    assert boot_partition(selecting(2), tryboot=tryboot) == slot
    assert boot_partition(selecting(3), tryboot=tryboot) == 5 - slot


@pytest.mark.parametrize(("argument", "slot"), [("", 2), ("0", 2), ("0 tryboot", 3), ("3", 3), ("2 tryboot", 2)])
def test_a_reboot_may_say_where_the_next_start_is_from(argument: str, slot: int) -> None:
    # Raspberry Pi documentation, "autoboot.txt": zero is the default partition, else boot_partition does not count.
    assert chosen(selecting(2), argument) == slot


def test_the_map_of_keys_holds_nothing_but_holes() -> None:
    # console-tools' binary format, as busybox's loadkmap.c reads it: a word, 256 flags, 128 numbers for each one set.
    data = empty_keymap()
    assert data[:7] == b"bkeymap"
    assert sum(data[7:263]) == 7
    assert data[263:] == b"\x00\x02" * 128 * 7


def test_updates_are_signed_for_the_boxes_that_take_them() -> None:
    assert SIGNED_FOR == COMPATIBLE
    assert f"compatible={COMPATIBLE}\n" in (HERE / "files/usr/share/keelnote/rauc.conf").read_text(encoding="ascii")


@made_by_tools
def test_the_free_end_of_a_slot_is_cut_off_and_no_file_with_it(tmp_path: Path) -> None:
    image, again = slot(tmp_path / "slot.img", b"some"), slot(tmp_path / "again.img", b"some")
    cut_free_end(image)
    size = again.stat().st_size
    assert image.stat().st_size < size
    # On a card, what lay there before follows; fsck.vfat reads tables, folders and lengths of files.
    with image.open("ab") as file:
        file.write(b"older" * (size // 5))
        file.truncate(size)
    subprocess.run(["/usr/sbin/fsck.vfat", "-n", image], check=True, capture_output=True)
    for name in ("kernel", "initrd", "cmdline.txt"):
        shown = [
            subprocess.run(["mtype", "-i", path, f"::{name}"], capture_output=True, check=True).stdout
            for path in (image, again)
        ]
        assert shown[0] == shown[1]


def test_a_list_is_read_without_its_comments(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_text("# head\none  # why\n\n two\n")
    assert listed(path) == ("one", "two")


def test_the_hash_changes_with_content_name_and_mode(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_text("x")
    first = hash_of([path])
    assert hash_of([path]) == first
    path.chmod(0o755)
    assert hash_of([path]) != first
    path.chmod(0o644)
    path.write_text("y")
    assert hash_of([path]) != first
    assert hash_of([path], "more") != hash_of([path])


def test_all_boards_of_the_design_have_their_device_tree() -> None:
    assert {name.split("-rpi-")[1] for name in BOARDS} == {"3-a-plus", "3-b-plus", "3-b", "zero-2-w", "4-b"}


def test_contents_name_packages_with_versions_and_licences(tmp_path: Path) -> None:
    place = tmp_path / "usr/share/doc/tool"
    place.mkdir(parents=True)
    (place / "copyright").write_text("Files: *\nLicense: GPL-2+\n text\n\nLicense: Expat\n")
    source = tmp_path / "pack-1.2.tar.gz"
    with tarfile.open(source, "w:gz") as archive:
        text = b"Metadata-Version: 2.1\nName: pack\nVersion: 1.2\nLicense: MIT\n"
        entry = tarfile.TarInfo("pack-1.2/PKG-INFO")
        entry.size = len(text)
        archive.addfile(entry, BytesIO(text))
    told = contents("tool\t1:1.0+b1\ttool\t1:1.0\tarm64\n", tmp_path, [], [source])
    assert contents("tool\t1:1.0+b1\ttool\t1:1.0\tarm64\n", tmp_path, [], [source]) == told
    read = json.loads(told)
    assert (read["bomFormat"], read["specVersion"]) == ("CycloneDX", "1.5")
    first, second = read["components"]
    assert (first["name"], first["version"]) == ("tool", "1:1.0+b1")
    assert [entry["license"]["name"] for entry in first["licenses"]] == ["Expat", "GPL-2+"]
    assert (second["purl"], second["licenses"][0]["license"]["name"]) == ("pkg:pypi/pack@1.2", "MIT")


def test_an_old_copyright_file_points_to_its_licence(tmp_path: Path) -> None:
    (tmp_path / "copyright").write_text("On Debian systems see /usr/share/common-licenses/LGPL-2.1.\n")
    assert licences_of(tmp_path / "copyright") == ["LGPL-2.1"]
    assert licences_of(tmp_path / "absent") == []


def due() -> ModuleType:
    loader = SourceFileLoader("due", str(HERE / "due"))
    spec = importlib.util.spec_from_loader("due", loader)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    loader.exec_module(module)
    return module


def test_the_image_is_due_when_what_it_is_made_of_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def git(*words: str) -> None:
        name = ("-c", "user.name=a", "-c", "user.email=a@example.org")
        subprocess.run(["git", "-C", tmp_path, *name, *words], check=True, capture_output=True)

    module = due()
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.delenv("KEELNOTE_BASE", raising=False)
    monkeypatch.delenv("KEELNOTE_IMAGE_TEST", raising=False)
    git("init", "-q", "-b", "main")
    (tmp_path / "firmware").mkdir()
    (tmp_path / "firmware/a.py").write_text("1")
    (tmp_path / "README.md").write_text("1")
    git("add", ".")
    git("commit", "-q", "-m", "a")
    assert module.reason()[0], "no origin"
    git("update-ref", "refs/remotes/origin/main", "HEAD")
    assert module.reason()[0], "main itself"
    (tmp_path / "README.md").write_text("2")
    git("commit", "-q", "-a", "-m", "b")
    assert not module.reason()[0]
    (tmp_path / "firmware/a.py").write_text("2")
    git("commit", "-q", "-a", "-m", "c")
    assert module.reason()[0]
    monkeypatch.setenv("KEELNOTE_IMAGE_TEST", "never")
    assert not module.reason()[0]
