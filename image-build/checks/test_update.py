"""Updates from a stick: a good one is tried and kept, all others are refused in plain words or left again."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from emulated.board import Board
from emulated.sticks import make_stick, put, read
from maker.bundle import bundle
from maker.keys import keys_in, signing_keys

pytestmark = pytest.mark.nightly

IMAGE = Path(os.environ.get("KEELNOTE_IMAGE", Path(__file__).resolve().parents[1] / "out"))
NEWER = "9.9.9+20991231.0000"

WRITTEN = 900.0
"""Patience while 300 MB are checked, written and read back in emulation."""


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("updates") / "good.raucb"
    bundle(IMAGE / "slot.img", NEWER, signing_keys(), target)
    return target


def told(stick: Path) -> str:
    return (read(stick, "KEELNOTE/update.txt") or b"").decode()


def test_a_good_update_is_tried_and_kept(board: Board, folder: Path, good: Path) -> None:
    stick = make_stick(folder / "stick.img", {"KEELNOTE/update.raucb": good})
    board.power_on()
    assert board.slot == 2
    board.wait_ready()
    board.control.plug(stick)
    board.wait_for_end(WRITTEN)
    assert board.tryboot, board.log()[-2000:]
    assert "is being written" in told(stick)
    board.power_on()
    assert board.slot == 3
    board.wait_ready()
    board.wait_for_line("runs well and is kept", 240)
    board.cut_power()
    board.power_on()
    assert board.slot == 3, "the new slot is not the usual one"
    board.wait_ready()


def test_a_trial_that_is_cut_short_leaves_the_old_slot(board: Board, folder: Path, good: Path) -> None:
    stick = make_stick(folder / "stick.img", {"KEELNOTE/update.raucb": good})
    board.power_on()
    board.wait_ready()
    board.control.plug(stick)
    board.wait_for_line("is being written", 240)
    board.cut_power()
    board.power_on()
    assert board.slot == 2
    board.wait_ready()
    board.control.plug(stick)
    board.wait_for_end(WRITTEN)
    assert board.tryboot
    board.power_on()
    assert board.slot == 3
    board.cut_power()
    board.power_on()
    assert board.slot == 2, "a trial that was never confirmed became the usual slot"
    board.wait_for_line("did not start; the box runs what it ran before", 240)


def test_bad_updates_are_refused_in_plain_words(board: Board, folder: Path, good: Path) -> None:
    strange = folder / "strange.raucb"
    bundle(IMAGE / "slot.img", NEWER, keys_in(folder / "strange-keys"), strange)
    other = folder / "other.raucb"
    bundle(IMAGE / "slot.img", NEWER, signing_keys(), other, compatible="other-box")
    older = folder / "older.raucb"
    bundle(IMAGE / "slot.img", "0.0.1+20200101.0000", signing_keys(), older)
    cut = folder / "cut.raucb"
    cut.write_bytes(good.read_bytes()[: good.stat().st_size // 2])
    bare = folder / "bare.raucb"
    bare.write_bytes((IMAGE / "slot.img").read_bytes()[: 50 << 20])
    cases = (
        (strange, "does not trust"),
        (other, "another kind of box (other-box)"),
        (older, "older than"),
        (cut, "not whole"),
        (bare, "not whole"),
    )
    board.power_on()
    board.wait_ready()
    for file, words in cases:
        stick = make_stick(folder / f"{file.stem}.img")
        put(stick, "KEELNOTE/update.raucb", file)
        board.control.plug(stick, file.stem)
        board.wait_until(f"{file.name} is refused", lambda stick=stick: "not taken" in told(stick), 300)
        assert words in told(stick), told(stick)
        board.control.yank(file.stem)
        stick.unlink()
        file.unlink()
    assert board.running()
    assert board.service("ActiveState") == "active"
