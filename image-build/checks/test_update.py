"""Updates from a stick: a good one is tried and kept, all others are refused in plain words or left again."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from emulated import firmware
from emulated.board import Board
from emulated.sticks import make_stick, read
from emulated.tones import RATE, recorded
from emulated.write_log import FLUSH, Write, after_cut, writes_of
from hardware.update.slots import selecting
from maker import layout
from maker.bundle import bundle
from maker.keys import Keys, keys_in, signing_keys

IMAGE = Path(os.environ.get("KEELNOTE_IMAGE", Path(__file__).resolve().parents[1] / "out"))
NEWER = "9.9.9+20991231.0000"
UPDATE = "KEELNOTE/update.raucb"

WRITTEN = 600.0
"""Patience while an update is checked, written and read back in emulation, on a busy machine."""

STARTED = 400.0


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The image itself, as a later version of it."""
    target = tmp_path_factory.mktemp("updates") / "good.raucb"
    bundle(IMAGE / "slot.img", NEWER, signing_keys(), target)
    return target


@pytest.fixture
def silent(card: Path, folder: Path) -> Iterator[Board]:
    """A board with nothing at it."""
    one = Board(card, folder)
    yield one
    one.cut_power()
    card.unlink(missing_ok=True)


def told(stick: Path) -> str:
    return (read(stick, "KEELNOTE/update.txt") or b"").decode()


def sectors(number: int) -> range:
    part = layout.PARTITIONS[number - 1]
    return range(part.start, part.start + part.size)


def into(writes: tuple[Write, ...], number: int) -> list[Write]:
    return [one for one in writes if one.sectors and one.sector in sectors(number)]


@pytest.mark.timeout(1500)
def test_a_good_update_is_tried_and_kept_and_the_card_would_start_at_any_moment(
    silent: Board, folder: Path, good: Path
) -> None:
    stick = make_stick(folder / "stick.img", {UPDATE: good}, megabytes=200)
    silent.card_log = folder / "writes-1.log"
    before = folder / "before.img"
    after_cut(silent.card, silent.card_log, (), before)
    silent.power_on()
    assert silent.slot == 2
    silent.wait_ready(STARTED)
    silent.control.plug(stick)
    silent.wait_for_end(WRITTEN)
    assert silent.reboot_argument == "3", silent.log()[-2000:]
    assert "is being written" in told(stick)
    first = writes_of(silent.card_log)
    nothing_but_the_other_slot_was_written(first)
    with silent.card.open("rb") as card, before.open("rb") as old:
        for file in (card, old):
            file.seek(sectors(2).start * layout.SECTOR)
        size = layout.SLOT_A.size * layout.SECTOR
        assert card.read(size) == old.read(size), "the slot that runs was changed"
    chance = random.Random(8)  # noqa: S311 - no secret
    for count in sorted(chance.sample(range(len(first)), 4)):
        cut = after_cut(before, silent.card_log, first[:count], folder / "cut.img", chance)
        assert firmware.load(cut, folder / "loaded").slot == 2
    # The trial.
    after_cut(silent.card, silent.card_log, (), before)
    silent.card_log = folder / "writes-2.log"
    silent.power_on()
    assert silent.slot == 3
    silent.wait_for_line("runs well and is kept", STARTED)
    silent.cut_power()
    second = writes_of(silent.card_log)
    at = the_one_sector_that_decides(second, silent.card)
    for count, slot in ((at, 2), (at + 1, 3)):
        cut = after_cut(before, silent.card_log, second[:count], folder / "cut.img")
        assert firmware.load(cut, folder / "loaded").slot == slot
    silent.power_on()
    assert silent.slot == 3, "the new slot is not the usual one"
    silent.cut_power()
    for name in ("cut.img", "before.img", "writes-1.log", "writes-2.log", "stick.img"):
        (folder / name).unlink()


def nothing_but_the_other_slot_was_written(writes: tuple[Write, ...]) -> None:
    assert into(writes, 1) == []
    assert into(writes, 2) == []
    slot = into(writes, 3)
    # What the update has brought, and then one sector once more, which tells the slot which one it is.
    start = sectors(3).start
    written = {number for one in slot for number in range(one.sector - start, one.sector - start + one.sectors)}
    assert written == set(range((IMAGE / "slot.img").stat().st_size // layout.SECTOR))
    assert slot[-1].sectors == 1
    last = writes.index(slot[-1])
    assert any(one.flags & FLUSH for one in writes[last:]), "the slot may not be on the card when it is tried"


def the_one_sector_that_decides(writes: tuple[Write, ...], card: Path) -> int:
    """Where in the order of writes the choice of the slot was changed."""
    assert into(writes, 2) == []
    assert into(writes, 3) == []
    (one,) = into(writes, 1)
    assert one.sectors == 1
    with card.open("rb") as file:
        file.seek(one.sector * layout.SECTOR)
        assert file.read(layout.SECTOR).rstrip(b"\0").decode() == selecting(3)
    return writes.index(one)


@pytest.mark.timeout(1800)
def test_an_update_that_is_cut_short_leaves_the_old_slot(silent: Board, folder: Path, good: Path) -> None:
    stick = make_stick(folder / "stick.img", {UPDATE: good}, megabytes=200)
    silent.power_on()
    silent.wait_ready(STARTED)
    silent.control.plug(stick)
    silent.wait_for_line("is being written", STARTED)
    silent.wait_until("some of it is written", lambda: silent.card.stat().st_blocks > 300_000, WRITTEN, every=0.1)
    silent.cut_power()
    silent.power_on()
    assert silent.slot == 2
    silent.wait_ready(STARTED)
    # The stick is put in again, and the plug is pulled during the trial.
    silent.control.plug(stick)
    silent.wait_for_end(WRITTEN)
    silent.power_on()
    assert silent.slot == 3
    silent.wait_for_line("systemd[1]", STARTED)
    silent.cut_power()
    silent.power_on()
    assert silent.slot == 2, "a trial that was never confirmed became the usual slot"
    silent.wait_for_line("did not start; the box runs what it ran before", STARTED)
    silent.wait_ready(STARTED)


@pytest.fixture
def bad(folder: Path) -> dict[str, tuple[Path, str]]:
    """Updates that no box takes, and words of what it says. They are small: what they bring is hardly looked at."""
    slot = folder / "slot.img"
    slot.write_bytes(np.random.default_rng(8).bytes(8 << 20))

    def signed(name: str, version: str = NEWER, keys: Keys | None = None, box: str = "keelnote-box") -> Path:
        bundle(slot, version, keys or signing_keys(), folder / name, compatible=box)
        return folder / name

    whole = signed("whole").read_bytes()
    cut, bare, rotten = (folder / name for name in ("cut", "bare", "rotten"))
    cut.write_bytes(whole[: len(whole) // 2])
    bare.write_bytes(slot.read_bytes())
    rotten.write_bytes(whole[: 4 << 20] + bytes(4096) + whole[(4 << 20) + 4096 :])
    return {
        "strange": (signed("strange", keys=keys_in(folder / "strange-keys")), "does not trust"),
        "other": (signed("other", box="other-box"), "another kind of box (other-box)"),
        "older": (signed("older", version="0.0.1+20200101.0000"), "older than"),
        "cut": (cut, "not whole"),
        "bare": (bare, "not whole"),
        "rotten": (rotten, "damaged"),
    }


@pytest.mark.timeout(1500)
def test_bad_updates_are_refused_in_plain_words_and_the_box_plays_on(
    board: Board, folder: Path, bad: dict[str, tuple[Path, str]]
) -> None:
    board.power_on()
    board.wait_ready(STARTED)
    for number, (name, (file, words)) in enumerate(bad.items()):
        stick = make_stick(folder / f"{name}.stick", {UPDATE: file}, megabytes=64)
        board.control.plug(stick, name)
        board.wait_until(f"{name} is refused", lambda stick=stick: "No update was made" in told(stick), STARTED)
        assert words in told(stick), told(stick)
        if number == 0:
            # The box begins anew when the first stick comes; from then on it is to play.
            board.wait_until("the service is ready", lambda: board.service("ActiveState") == "active", 120)
            began = board.service("MainPID")
            board.control.tap("kp_7")
        board.control.yank(name)
        stick.unlink()
    assert board.service("MainPID") == began
    # The parts of the slot that were written before the fault was seen belong to no start.
    assert firmware.load(board.card, folder / "loaded-after").slot == 2
    board.cut_power()
    sound = recorded(folder / "sound.wav")
    assert np.max(np.abs(sound[-5 * RATE :])) > 1e-3, "the drone has ended"
