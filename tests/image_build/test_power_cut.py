"""Power fails after any sector that an update writes: the card starts, and what starts is whole.

The rules by which a card starts are those of `image-build/emulated/firmware.py`. The whole update of the real image,
with every write that its kernel makes, is looked at in `image-build/checks/test_update.py`.
"""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from emulated.firmware import boot_partition
from hardware.update import fat, run
from hardware.update.slots import ARGUMENT, NAMES, other, selecting
from tests.hardware.update.cards import made_by_tools, selector, slot

pytestmark = made_by_tools


class Card:
    """The three partitions that decide, as files."""

    def __init__(self, folder: Path, runs: int) -> None:
        self.runs = runs
        self.parts = {1: selector(folder / "p1", runs)}
        self.parts[runs] = slot(folder / f"p{runs}", b"old", runs)
        self.parts[other(runs)] = slot(folder / f"p{other(runs)}", b"older", other(runs))
        self.image = slot(folder / "slot.img", b"new")

    def part(self, path: Path) -> int:
        return next(number for number, one in self.parts.items() if one == path)


def told(card: Card, slot_number: int) -> tuple[bytes, bytes, bytes, bytes]:
    def shown(name: str) -> bytes:
        command = ["mtype", "-i", card.parts[slot_number], f"::{name}"]
        return subprocess.run(command, capture_output=True, check=True).stdout

    return shown("config.txt"), shown("kernel"), shown("initrd"), shown("cmdline.txt")


def started(card: Card, *, trial: bool = False) -> int:
    """Which slot the firmware would take."""
    return boot_partition(fat.read(card.parts[1], "autoboot.txt"), tryboot=trial)


@pytest.fixture
def recorded(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Path, int, bytes]]:
    """What `fat` writes, which is nevertheless written."""
    found: list[tuple[Path, int, bytes]] = []
    write = os.pwritev

    def noted(handle: int, pieces: list[bytes], at: int) -> int:
        found.extend((Path(f"/proc/self/fd/{handle}").readlink(), at, bytes(piece)) for piece in pieces)
        return write(handle, pieces, at)

    monkeypatch.setattr(os, "pwritev", noted)
    return found


@pytest.mark.parametrize("runs", NAMES)
def test_after_any_sector_the_card_starts_and_what_starts_is_whole(
    tmp_path: Path, runs: int, recorded: list[tuple[Path, int, bytes]]
) -> None:
    card = Card(tmp_path, runs)
    new = other(runs)
    old = told(card, runs)
    # 1. rauc writes the image: sector by sector, other sectors than those that differ are no news.
    image, target = card.image.read_bytes(), card.parts[new]
    with target.open("r+b") as file:
        for at in range(0, len(image), fat.SECTOR):
            file.seek(at)
            if (piece := image[at : at + fat.SECTOR]) != file.read(fat.SECTOR):
                file.seek(at)
                file.write(piece)
                file.flush()
                assert started(card) == runs
    assert told(card, runs) == old
    # 2. The slot is told which one it is; 3. a trial takes it, whole; every other start takes the old one.
    run.fit(target, new)
    assert started(card) == runs
    assert started(card, trial=True) == new
    trial = told(card, new)
    assert trial[1] == b"new" * 4000
    assert ARGUMENT.format(slot=new, name=NAMES[new]).encode() in trial[3]
    assert told(card, runs) == old
    # 4. The trial ran well: from this sector on, every start takes the new one, and a trial would take the old one.
    fat.overwrite(card.parts[1], "autoboot.txt", selecting(new))
    assert (started(card), started(card, trial=True)) == (new, runs)
    assert told(card, new) == trial
    # What was written: nothing of the old slot, and of the first partition one sector.
    where = [(card.part(path), len(data)) for path, _, data in recorded]
    assert where == [(new, 512), (1, 512)]
