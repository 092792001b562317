"""The panel that is a file: Pillow reads what it keeps, and the screen's own thread writes it."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from firmware.errors import DeviceError
from firmware.screens.frame import HEIGHT, WIDTH, Frame
from hardware.drivers.oled import OledScreen
from hardware.drivers.screen_file import ScreenFile


def framed(*lit: tuple[int, int]) -> Frame:
    bits = bytearray(WIDTH * HEIGHT // 8)
    for x, y in lit:
        bits[(y * WIDTH + x) // 8] |= 0x80 >> x % 8
    return Frame(bytes(bits))


def test_pillow_sees_the_picture_that_was_written(tmp_path: Path) -> None:
    glass = ScreenFile(tmp_path / "screen.pbm")
    glass.write(framed((0, 0), (127, 63), (9, 1)))
    with Image.open(tmp_path / "screen.pbm") as picture:
        black = [(x, y) for y in range(HEIGHT) for x in range(WIDTH) if picture.getpixel((x, y)) == 0]
        assert picture.size == (WIDTH, HEIGHT)
    assert black == [(0, 0), (9, 1), (127, 63)]
    assert [path.name for path in tmp_path.iterdir()] == ["screen.pbm"]


def test_the_screens_thread_keeps_the_latest_picture_in_it(tmp_path: Path) -> None:
    screen = OledScreen(lambda: ScreenFile(tmp_path / "screen.pbm"))
    screen.start()
    try:
        screen.show(framed((5, 5)))
        assert screen.flush(5.0)
    finally:
        screen.stop()
    assert (tmp_path / "screen.pbm").read_bytes().endswith(framed((5, 5)).bits)


def test_a_place_that_takes_no_file_is_a_panel_that_does_not_answer(tmp_path: Path) -> None:
    with pytest.raises(DeviceError, match="can't be written"):
        ScreenFile(tmp_path / "absent" / "screen.pbm")
