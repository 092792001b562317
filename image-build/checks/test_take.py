"""A take of the microphone lands on the stick and decodes to it, also when the stick is yanked and returned."""

from __future__ import annotations

from pathlib import Path

import pytest

from emulated.board import Board
from emulated.exact import Duplex, heard_so_far, let_pass, microphone_signal, shown, stay_awake, tap, wait_for_stick
from emulated.sticks import make_stick, read
from emulated.takes import GRAVE, damage, pieces, takes_on

RATE = 48_000


@pytest.mark.timeout(1800)
def test_takes_are_what_the_microphone_gave_also_on_a_stick_that_is_yanked(
    exact_board: Board, duplex: Duplex, folder: Path
) -> None:
    board = exact_board
    stick = make_stick(folder / "stick.img", megabytes=128)
    board.power_on()
    board.control.plug(stick)
    wait_for_stick(board, stick, 900)
    stay_awake(board)
    let_pass(board, 3)

    presses = [heard_so_far(board, duplex)]
    tap(board, "kp_5")
    assert shown(let_pass(board, 5), "Take 1 runs")
    board.screen("take")
    tap(board, "kp_5")
    stopped = heard_so_far(board, duplex)
    assert shown(let_pass(board, 5), "Take 1 is safe")

    presses.append(heard_so_far(board, duplex))
    tap(board, "kp_5")
    let_pass(board, 4)
    board.control.yank()
    pictures = let_pass(board, 4)
    board.screen("stick-out")
    assert shown(pictures, "Stick is out") or shown(pictures, "Take goes on inside the box")
    board.control.plug(stick)
    pictures = let_pass(board, 8)
    board.screen("stick-back")
    assert shown(pictures, "Take is joined, nothing lost")
    tap(board, "kp_5")
    assert shown(let_pass(board, 3), "Take 2 is safe")
    board.cut_power()

    report = (read(stick, "KEELNOTE/report.txt") or b"").decode()
    (folder / "report.txt").write_text(report, encoding="utf-8")
    assert "goes on in the box itself" in report
    assert "its parts follow each other without a gap" in report
    takes = takes_on(stick, folder / "copied")
    assert len(takes) == 2, takes.keys()
    signal = microphone_signal(300.0)
    found = {name: pieces(take, signal) for name, take in sorted(takes.items())}
    figures = [f"{name}: {len(takes[name]) / RATE:.3f} s in {one}" for name, one in found.items()]
    (folder / "figures.txt").write_text("\n".join(figures) + "\n", encoding="utf-8")
    for (name, take), runs, press in zip(sorted(takes.items()), found.values(), presses, strict=True):
        # Sample for sample the same from the press of the key on: frequency and level are those of the signal, nothing
        # is missing or doubled. The pre-roll goes back to the start of the box, and to the end of the take before, when
        # a processor of a quarter of the slowest board's speed is too slow for some blocks.
        last = runs[-1]
        assert last.in_signal < press, f"{name} has a gap after its key was pressed: {runs}"
        assert last.in_take + last.length == len(take), f"{name} ends with what was not heard: {runs}"
    first, second = sorted(takes)
    assert len(takes[first]) > 6 * RATE
    assert len(takes[second]) > 16 * RATE
    end = found[first][-1].in_signal + found[first][-1].length
    assert abs(end - stopped) < 0.5 * RATE, "the take does not end where the key was pressed"
    grave, _ = damage(stick, folder / "checked.img")
    assert grave == (), GRAVE
