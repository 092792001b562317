"""The self-test's picture over the real screen driver on a model of the chips: what the builder then really sees."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
import smbus2

from firmware.screens.frame import Frame
from hardware.board.parts import Board
from hardware.board.table import own_board
from hardware.drivers.oled_chip import OledPanel
from hardware.selftest import bench_of, run_selftest
from hardware.simulated.faulty_box import FaultyBox, good_box
from hardware.simulated.oled_chip import SimulatedOledChip
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest

BOARD = own_board()


class BoxWithGlass(FaultyBox):
    """A box whose pictures go through the driver into a chip, and from there to the eye."""

    panel: OledPanel
    chip: SimulatedOledChip
    upside_down: bool

    def seen(self, frame: Frame) -> Frame:
        self.panel.write(frame)
        bits = self.chip.picture().bits
        return Frame(bytes(int(f"{byte:08b}"[::-1], 2) for byte in bits[::-1]) if self.upside_down else bits)


def found(board: Board, chip: str, *, upside_down: bool, monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, ...]]:
    """Codes and values of what is found with a board file on a screen with some chip, built in one way or the other."""
    model = SimulatedOledChip(chip)
    monkeypatch.setattr(smbus2, "SMBus", model.bus)
    bench = bench_of(board)
    good = good_box(bench)
    box = BoxWithGlass(**{field.name: getattr(good, field.name) for field in fields(good)})
    box.panel, box.chip, box.upside_down = OledPanel(board.screen), model, upside_down
    walk = run_selftest(bench, SimulatedBoxUnderTest(bench, box), frozenset({"sound"}))
    box.panel.close()
    return [(one.code, *(value for _, value in one.values)) for one in walk.findings]


def with_screen(**changes: object) -> Board:
    """Our board with another screen in its file."""
    return replace(BOARD, screen=replace(BOARD.screen, **changes))


@pytest.mark.parametrize("chip", ["ssd1306", "sh1106"])
def test_a_screen_as_the_board_file_has_it_is_good(chip: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert found(with_screen(chip=chip), chip, upside_down=False, monkeypatch=monkeypatch) == []


@pytest.mark.parametrize(("told", "true"), [("ssd1306", "sh1106"), ("sh1106", "ssd1306")])
def test_the_other_chip_is_told_by_its_picture(told: str, true: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert found(with_screen(chip=told), true, upside_down=False, monkeypatch=monkeypatch) == [("screen-chip", true)]


def test_glass_that_is_built_in_upside_down_is_told_until_the_file_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    assert found(BOARD, "ssd1306", upside_down=True, monkeypatch=monkeypatch) == [("screen-upside-down",)]
    assert found(with_screen(rotated=True), "ssd1306", upside_down=True, monkeypatch=monkeypatch) == []
