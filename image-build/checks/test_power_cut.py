"""The power is cut in mid-take, again and again: what each cut leaves of stick and card is taken up at the next start.

Two cuts are real: QEMU is killed, and keeps what it had been given. The others are made of the log of all writes to the
stick, and to the card: up to some moment in order, or, as a real one may, with anything of what no flush had made safe.
"""

from __future__ import annotations

import random
import re
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from emulated.board import Board
from emulated.exact import Duplex, Pace, heard_so_far, let_pass, microphone_signal, stay_awake, tap, wait_for_stick
from emulated.sticks import copied, make_stick, read
from emulated.takes import damage, pieces, takes_on
from emulated.write_log import Write, after_cut, writes_of
from maker import layout

RATE = 48_000
CUTS = 10
MOST_MISSING = 1.5
"""Seconds. The box promises 1.2; what is on its way through the emulated sound card, 0.1 s, had not come to it yet."""

PATIENCE = 900.0
JOINED = "its parts follow each other without a gap"


@dataclass(frozen=True, slots=True)
class Session:
    """What was recorded, and all that is needed to cut the power in it anywhere."""

    stick: Path
    stick_before: Path
    stick_pulled: Path
    stick_log: Path
    card_before: Path
    card_log: Path
    pace: Pace
    pressed: int
    """Samples that had been heard when the take was begun."""
    pulled: int
    """When the stick was yanked."""
    returned: int
    """When it was plugged in again."""
    heard: int
    """When the power was cut."""


def copy(source: Path, target: Path) -> Path:
    subprocess.run(["cp", "--sparse=always", source, target], check=True)
    return target


def record(board: Board, duplex: Duplex, folder: Path) -> Session:
    """A take on a stick that is yanked and returned, and the plug pulled in the middle of it."""
    stick = make_stick(folder / "stick.img", megabytes=128)
    stick_before = copy(stick, folder / "stick-before.img")
    card_before = copy(board.card, folder / "card-before.img")
    stick_log, again_log = folder / "stick.log", folder / "stick-again.log"
    board.card_log = folder / "card.log"
    board.power_on()
    board.control.plug(stick, log=stick_log)
    wait_for_stick(board, stick, PATIENCE)
    stay_awake(board)
    pace = Pace(board, duplex, stick_log, board.card_log)
    let_pass(board, 3)
    tap(board, "kp_5")
    pressed = heard_so_far(board, duplex)
    let_pass(board, 6)
    pulled = heard_so_far(board, duplex)
    board.control.yank()
    stick_pulled = copy(stick, folder / "stick-pulled.img")
    let_pass(board, 4)
    returned = heard_so_far(board, duplex)
    board.control.plug(stick, log=again_log)
    let_pass(board, 5)
    heard = heard_so_far(board, duplex)
    board.cut_power()
    return Session(
        *(stick, stick_before, stick_pulled, stick_log, card_before, board.card_log),
        *(pace, pressed, pulled, returned, heard),
    )


def plain_board(card: Path, folder: Path) -> Board:
    """A board without a sound card: it mends and joins all the same."""
    folder.mkdir()
    return Board(card, folder, ("-device", "usb-kbd,bus=usb.0", "-device", "i6300esb"))


def whole(stick: Path, scratch: Path) -> bool:
    """Whether every take on it says its own length (RFC 9639, 8.2: the last 36 bits of bytes 18 to 25)."""
    try:
        heads = [path.read_bytes()[:26] for path in copied(stick, scratch) if path.suffix == ".flac"]
    except subprocess.CalledProcessError:  # it is being written just now
        return False
    return bool(heads) and all(int.from_bytes(head[21:26], "big") & 0xF_FFFF_FFFF for head in heads if head)


def wait(what: str, test: Callable[[], bool], board: Board) -> None:
    deadline = time.monotonic() + PATIENCE / 3
    while not test():
        assert time.monotonic() < deadline, f"{what}\n{board.log()[-3000:]}"
        time.sleep(2.0)


def missing(stick: Path, scratch: Path, heard: int, signal: np.ndarray) -> float:
    """Seconds of the end of the take that are not on the stick; what is there must be the signal.

    But for blocks that the emulated processor was too slow for, while a stick goes or the box starts: the box hears
    nothing of them, so that they are no matter of sticks. `test_take.py` looks for gaps.
    """
    takes = takes_on(stick, scratch)
    assert len(takes) == 1, takes.keys()
    (take,) = takes.values()
    runs = pieces(take, signal)
    assert runs, "nothing of the signal is in the take"
    assert runs[-1].in_take + runs[-1].length == len(take), f"the take ends with what was not heard: {runs}"
    assert sum(run.length for run in runs) > 0.95 * len(take), f"the take is not what was heard: {runs}"
    return float(heard - runs[-1].in_signal - runs[-1].length) / RATE


def stick_cuts(session: Session) -> list[tuple[int, int]]:
    """Moments at which the power is cut: how many writes the stick had been given, and what had been heard by then."""
    writes = writes_of(session.stick_log)
    ends = [one.end for one in writes[1:]]
    moments = [(number, session.pace.heard_at(session.stick_log, end)) for number, end in enumerate(ends, 1)]
    wanted = [one for one in moments if session.pressed + RATE < one[1] < session.pulled]
    assert len(wanted) >= CUTS, f"{len(wanted)} writes while the take ran"
    return sorted(random.Random(8).sample(wanted, CUTS))  # noqa: S311 - any moment will do


@pytest.mark.timeout(3600)
def test_power_cuts_in_mid_take_are_mended_at_the_next_start(exact_board: Board, duplex: Duplex, folder: Path) -> None:
    signal = microphone_signal(300.0)
    session = record(exact_board, duplex, folder)
    told: list[str] = []
    scratch = folder / "copied"

    # The card and the stick as the killed board left them.
    board = plain_board(exact_board.card, folder / "next-start")
    try:
        board.power_on()
        board.control.plug(session.stick)
        wait("the cut take is not mended", lambda: whole(session.stick, scratch), board)
        told.append(f"killed: {missing(session.stick, scratch, session.heard, signal):.2f} s missing")
        board.control.yank()
        told += mended_one_by_one(board, session, folder, signal)
    finally:
        board.cut_power()
        (folder / "figures.txt").write_text("\n".join(told) + "\n", encoding="utf-8")

    told += cut_while_the_card_was_written(session, folder, signal)
    (folder / "figures.txt").write_text("\n".join(told) + "\n", encoding="utf-8")


def mended_one_by_one(board: Board, session: Session, folder: Path, signal: np.ndarray) -> list[str]:
    """Put sticks in that a cut left behind, one after the other, into one running box."""
    writes, told, scratch = writes_of(session.stick_log), [], folder / "copied"
    for turn, (number, heard) in enumerate(stick_cuts(session)):
        chance = random.Random(number) if turn % 2 else None  # noqa: S311 - any order will do
        stick = folder / f"stick-{turn}.img"
        after_cut(session.stick_before, session.stick_log, writes[:number], stick, chance)
        before = damage(stick, folder / "checked.img")
        board.control.plug(stick, f"stick{turn}")
        wait(f"cut {turn} is not mended", lambda stick=stick: whole(stick, scratch), board)  # type: ignore[misc]  # a default binds it
        lost = missing(stick, scratch, heard, signal)
        board.control.yank(f"stick{turn}")
        grave, other = damage(stick, folder / "checked.img")
        how = "drawn" if turn % 2 else "in order"
        told.append(f"cut {turn} after write {number}, {how}: {lost:.2f} s missing; fsck {before} then {grave} {other}")
        assert lost <= MOST_MISSING, told
        assert grave == (), told
        stick.unlink()
    return told


def cut_while_the_card_was_written(session: Session, folder: Path, signal: np.ndarray) -> list[str]:
    """Check what cuts leave of the data partition; start a box with the worst, whose stick was out at that moment."""
    writes = writes_of(session.card_log)
    heard = [session.pace.heard_at(session.card_log, one.end) for one in writes[1:]]
    spooling = [number for number, at in enumerate(heard, 1) if session.pulled + RATE < at < session.returned]
    assert spooling, "nothing was written to the card while the stick was out"
    chosen = random.Random(8).sample(spooling, min(4, len(spooling)))  # noqa: S311 - any moment will do
    first_start = [number for number in range(1, len(writes)) if not heard[number - 1]]
    early = random.Random(9).sample(first_start, min(4, len(first_start)))  # noqa: S311 - the same
    card = folder / "card-cut.img"
    found = {number: verdict(session, writes[:number], card) for number in (*chosen, *early)}
    told = [f"card after write {number} of {len(writes)}: {said or 'sound'}" for number, said in found.items()]

    worst = max(chosen, key=lambda number: len(found[number]))
    cut_card(session, writes[:worst], card)
    stick = copy(session.stick_pulled, folder / "stick-out.img")
    board = plain_board(card, folder / "start-of-the-worst")
    try:
        board.power_on()
        board.control.plug(stick)

        # What the card kept of the take joins it.
        def joined() -> bool:
            report = (read(stick, "KEELNOTE/report.txt") or b"").decode()
            return JOINED in report and whole(stick, folder / "copied")

        wait("what the card kept does not join its take", joined, board)
        state = board.shell("cat /run/keelnote-boot/data", 300).strip()
        lost = missing(stick, folder / "copied", heard[worst - 1], signal)
        told.append(f"started with the card after write {worst}: data {state}, {lost:.2f} s missing")
        assert state in {"ok", "mended"}, told
        assert lost <= MOST_MISSING, told
    finally:
        board.cut_power()
        card.unlink()
    return told


def cut_card(session: Session, writes: tuple[Write, ...], card: Path) -> None:
    after_cut(session.card_before, session.card_log, writes, card, random.Random(len(writes)))  # noqa: S311 - any order


def verdict(session: Session, writes: tuple[Write, ...], card: Path) -> tuple[str, ...]:
    """What e2fsck still finds in the data partition after its journal was replayed, as the kernel does at each mount.

    Sums of what is free, which the kernel brings up to date when it unmounts, are no damage.
    """
    cut_card(session, writes, card)
    part = card.with_name("data.img")
    place = f"skip={layout.DATA.start // layout.MIB}"
    subprocess.run(["dd", f"if={card}", f"of={part}", "bs=1M", place, "conv=sparse", "status=none"], check=True)
    card.unlink()
    checker = ["/usr/sbin/e2fsck", "-y"]
    subprocess.run([*checker, "-E", "journal_only", part], capture_output=True, check=False)
    done = subprocess.run([*checker, "-f", part], capture_output=True, text=True, check=False)
    part.unlink()
    assert done.returncode <= 2, f"e2fsck gave the data partition up: {done.stdout}"
    usual = re.compile(
        r"Pass \d|Fix\? yes|Free (blocks|inodes) count wrong \(|.*FILE SYSTEM WAS MODIFIED|.*files \(|\s*$"
    )
    return tuple(line.strip() for line in done.stdout.splitlines() if not usual.match(line))
