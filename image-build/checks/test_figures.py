"""The image's figures, held with a margin; image-build/figures keeps them with date and machine."""

from __future__ import annotations

import os
import time
from dataclasses import asdict
from pathlib import Path

import pytest

from emulated.board import Board
from emulated.sticks import make_stick
from emulated.write_log import writes_of
from figures.results import keep
from figures.start import own_start, plain_start
from figures.use import NEXT_STEP, TAKE, memory, play, start_with_stick, work, written

IMAGE = Path(os.environ.get("KEELNOTE_IMAGE", Path(__file__).resolve().parents[1] / "out"))

MOST_MEMORY = 180.0
"""Megabytes, of a board that has 512."""

MOST_READY = 1.0
MOST_SOUND = 1.0
"""Times what a plain Debian takes to its login, both in instructions."""

REHEARSAL = 300.0
"""Seconds."""


@pytest.mark.nightly
@pytest.mark.timeout(3600)
def test_it_is_ready_and_sounds_before_a_plain_debian_asks_for_a_login(folder: Path) -> None:
    plain = plain_start(IMAGE, folder / "plain", counted=True)
    own = own_start(IMAGE, folder / "own", counted=True)
    keep(folder, "start", {"plain_login": asdict(plain), **asdict(own)})
    assert own.ready.instructions <= MOST_READY * plain.instructions
    assert own.sound.instructions <= MOST_SOUND * plain.instructions


@pytest.mark.nightly
@pytest.mark.timeout(3600)
def test_it_needs_little_and_leaves_its_card_alone(exact_board: Board, folder: Path) -> None:
    board = exact_board
    # As it is flashed, without room to grow: growing writes, at the first start alone.
    with board.card.open("r+b") as card:
        card.truncate((IMAGE / "keelnote.img").stat().st_size)
    board.card_log = log = folder / "writes.log"
    stick = make_stick(folder / "stick.img")
    start_with_stick(board, stick)
    idle = work(board, 60, counted=True)
    before = len(writes_of(log))
    play(board)
    began = time.monotonic()
    busy = work(board, 30, counted=True)
    while time.monotonic() - began < REHEARSAL:
        board.control.tap(NEXT_STEP, hold=0.3)
        time.sleep(REHEARSAL / 5)
    used = memory(board)
    board.screen("playing")
    rehearsal = written(log, before)
    mark = len(writes_of(log))
    board.control.yank()
    board.wait_until("the take goes to the spool", lambda: written(log, mark)["keelnote-data"] > 0, 300)
    time.sleep(20)
    away = written(log, mark)
    board.control.tap(TAKE, hold=0.3)
    shown = {"memory": asdict(used), "idle": asdict(idle), "playing": asdict(busy)}
    keep(folder, "use", {**shown, "written_in_rehearsal": rehearsal, "written_without_stick": away})
    assert used.used <= MOST_MEMORY
    assert idle.mega_instructions < busy.mega_instructions, (idle, busy)
    assert set(rehearsal.values()) == {0}, rehearsal
    # That a take without its stick is seen here shows that nothing of it was overlooked before.
    assert {name for name, count in away.items() if count} == {"keelnote-data"}, away
