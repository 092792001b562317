"""Updates from a stick: a good one is tried and kept, all others are refused in plain words or left again."""

from __future__ import annotations

import os
import random
import subprocess
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from emulated import firmware
from emulated.board import Board
from emulated.exact import EXACT, tap, wait_for_stick
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
def good() -> Iterator[Path]:
    """The image itself, as a later version of it."""
    target = IMAGE / "checks/good.raucb"
    target.parent.mkdir(exist_ok=True)
    bundle(IMAGE / "slot.img", NEWER, signing_keys(), target)
    yield target
    target.unlink()


def told(stick: Path) -> str:
    return (read(stick, "KEELNOTE/update.txt") or b"").decode()


def sectors(number: int) -> range:
    part = layout.PARTITIONS[number - 1]
    return range(part.start, part.start + part.size)


def into(writes: tuple[Write, ...], number: int) -> list[Write]:
    return [one for one in writes if one.sectors and one.sector in sectors(number)]


@pytest.mark.timeout(1800)
def test_bad_updates_are_refused_in_plain_words_and_the_box_runs_on(
    quiet: Board, folder: Path, bad: dict[str, tuple[Path, str]]
) -> None:
    quiet.power_on()
    quiet.wait_ready(STARTED)
    all_bad_ones_are_refused(quiet, folder, bad)


@pytest.mark.nightly  # five starts; and its way from the writing on was never seen to its end
@pytest.mark.timeout(2400)
def test_a_good_update_is_tried_and_kept_or_left_again_and_the_card_would_start_at_any_moment(
    quiet: Board, folder: Path, good: Path
) -> None:
    board = quiet
    before, tried = folder / "before.img", folder / "tried.img"
    copy(board.card, before)
    board.card_log = folder / "writes-1.log"
    board.power_on()
    assert board.slot == 2
    board.wait_ready(STARTED)
    the_good_one_is_written(board, folder, good)
    first = writes_of(board.card_log)
    nothing_but_the_other_slot_was_written(first)
    with board.card.open("rb") as card, before.open("rb") as old:
        for file in (card, old):
            file.seek(sectors(2).start * layout.SECTOR)
        size = layout.SLOT_A.size * layout.SECTOR
        assert card.read(size) == old.read(size), "the slot that runs was changed"
    chance = random.Random(8)  # noqa: S311 - no secret
    for count in sorted(chance.sample(range(len(first)), 4)):
        cut = after_cut(before, board.card_log, first[:count], folder / "cut.img", chance)
        assert firmware.load(cut, folder / "loaded").slot == 2
    copy(board.card, tried)
    the_trial_is_kept(board, folder, tried)
    copy(tried, board.card)
    a_trial_whose_plug_is_pulled_is_left(board)
    for name in ("cut.img", "before.img", "tried.img", "writes-1.log", "writes-2.log", "good.stick"):
        (folder / name).unlink()


def copy(card: Path, to: Path) -> None:
    subprocess.run(["cp", "--sparse=always", card, to], check=True)


def all_bad_ones_are_refused(board: Board, folder: Path, bad: dict[str, tuple[Path, str]]) -> None:
    """One after the other, and the box's process runs on meanwhile."""
    said = {}
    process = board.service("MainPID")
    for name, (file, _) in bad.items():
        stick = make_stick(folder / f"{name}.stick", {UPDATE: file}, megabytes=64)
        board.control.plug(stick, name)
        board.wait_until(f"{name} is refused", lambda stick=stick: "No update was made" in told(stick), STARTED)
        said[name] = told(stick)
        board.control.yank(name)
        stick.unlink()
    (folder / "refusals.txt").write_text("".join(f"{name}: {text}" for name, text in said.items()), encoding="utf-8")
    assert {name: words in said[name] for name, (_, words) in bad.items()} == dict.fromkeys(bad, True), said
    assert board.service("MainPID") == process
    # The parts of the slot that were written before a fault was seen belong to no start.
    assert firmware.load(board.card, folder / "loaded-after").slot == 2


def the_good_one_is_written(board: Board, folder: Path, good: Path) -> None:
    process = board.service("MainPID")
    stick = make_stick(folder / "good.stick", {UPDATE: good}, megabytes=200)
    board.control.plug(stick, "good")
    board.wait_until("it is taken", lambda: "is being written" in told(stick), STARTED)
    assert board.service("MainPID") == process
    board.wait_for_end(WRITTEN)
    assert board.reboot_argument == "3", board.log()[-2000:]


def the_trial_is_kept(board: Board, folder: Path, before: Path) -> None:
    board.card_log = folder / "writes-2.log"
    board.power_on()
    assert board.slot == 3
    board.wait_for_line("runs well and is kept", STARTED)
    board.cut_power()
    writes = writes_of(board.card_log)
    at = the_one_sector_that_decides(writes, board.card)
    for count, slot in ((at, 2), (at + 1, 3)):
        cut = after_cut(before, board.card_log, writes[:count], folder / "cut.img")
        assert firmware.load(cut, folder / "loaded").slot == slot


def a_trial_whose_plug_is_pulled_is_left(board: Board) -> None:
    board.card_log, board.reboot_argument = None, "3"
    board.power_on()
    assert board.slot == 3
    board.wait_for_line("systemd[1]", STARTED)
    board.cut_power()
    board.power_on()
    assert board.slot == 2, "a trial that was never confirmed became the usual slot"
    board.wait_for_line("did not start; the box runs what it ran before", STARTED)
    board.wait_ready(STARTED)


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


@pytest.mark.nightly  # in the exact time of such a board, six bundles take minutes; the process is watched above
@pytest.mark.timeout(1800)
def test_the_drone_sounds_on_while_updates_are_refused(
    board: Board, folder: Path, bad: dict[str, tuple[Path, str]]
) -> None:
    board.devices = (*board.devices, *EXACT)
    plain = make_stick(folder / "plain.stick", megabytes=64)
    board.power_on()
    # The box begins anew when its first stick comes; from then on it is to play.
    board.control.plug(plain, "plain")
    wait_for_stick(board, plain, 900)
    board.control.yank("plain")
    tap(board, "kp_7")
    sound = folder / "sound.wav"
    board.wait_until("the drone sounds", lambda: np.ptp(recorded(sound)[-RATE:]) > 1e-3, 300)
    began = len(recorded(sound))
    all_bad_ones_are_refused(board, folder, bad)
    board.cut_power()
    heard = np.abs(recorded(sound)[began:])
    loudest = [np.max(heard[at : at + RATE]) for at in range(0, len(heard) - RATE, RATE)]
    assert len(loudest) > 5
    assert min(loudest) > 1e-3, "the drone ended"


@pytest.mark.nightly  # three starts more; that the old slot is as it was at any moment is looked at above
@pytest.mark.timeout(1800)
def test_an_update_that_is_cut_short_leaves_the_old_slot_and_can_be_put_in_again(
    quiet: Board, folder: Path, good: Path
) -> None:
    board = quiet
    stick = make_stick(folder / "good.stick", {UPDATE: good}, megabytes=200)
    board.power_on()
    board.wait_ready(STARTED)
    blocks = board.card.stat().st_blocks
    board.control.plug(stick)
    board.wait_for_line("is being written", STARTED)
    board.wait_until("some of it is written", lambda: board.card.stat().st_blocks > blocks + 40_000, WRITTEN, every=0.1)
    assert board.running()
    board.cut_power()
    board.power_on()
    assert board.slot == 2
    board.wait_ready(STARTED)
    board.control.plug(stick)
    board.wait_for_end(WRITTEN)
    board.power_on()
    assert board.slot == 3
    board.wait_for_line("runs well and is kept", STARTED)
    stick.unlink()


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
