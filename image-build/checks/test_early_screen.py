"""The screen shows life from the initial RAM disk on, within three seconds of the kernel, by the driver's own bytes."""

from __future__ import annotations

import re
from pathlib import Path

from emulated.board import Board
from emulated.exact import EXACT
from emulated.probe import taken, with_probe
from firmware.screens.raster import png_of
from firmware.screens.welcome import welcome
from hardware.board.table import own_board
from hardware.simulated.oled_chip import SimulatedOledChip

MOST_SECONDS = 3.0

PATIENCE = 1500.0
"""Seconds of this machine, however slow, in which somebody answers."""


def test_the_screen_shows_life_within_three_seconds_of_the_kernel(card: Path, folder: Path) -> None:
    board = Board(card, folder, (*EXACT, "-device", "i6300esb"))
    with_probe(board)
    board.power_on()
    try:
        board.shell("true", seconds=PATIENCE)
        sent = taken(board)
        log = board.shell("dmesg", seconds=300)
    finally:
        board.cut_power()
        card.unlink()
    (folder / "kernel.txt").write_text(log, encoding="utf-8")
    glass = SimulatedOledChip(own_board().screen.chip)
    for transfer in sent:
        glass.take(transfer[0], transfer[1:])
    (folder / "screen.png").write_bytes(png_of(glass.picture(), 4))
    assert glass.picture() == welcome()
    times = dict(re.findall(r"\[ *([\d.]+)\] (Run /\w+|keelnote: the screen shows life)", log))
    said = {words: float(seconds) for seconds, words in times.items()}
    (folder / "seconds.txt").write_text(f"{said}\n", encoding="utf-8")
    assert said["keelnote: the screen shows life"] <= MOST_SECONDS, said
