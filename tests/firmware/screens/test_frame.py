"""Frames: the right size only, and the order of the dots."""

from __future__ import annotations

import pytest

from firmware.screens.frame import HEIGHT, WIDTH, Frame


def test_an_empty_frame_is_dark() -> None:
    assert not any(Frame().lit(x, y) for x in range(WIDTH) for y in range(HEIGHT))


@pytest.mark.parametrize("size", [0, 1023, 1025])
def test_another_size_is_refused(size: int) -> None:
    with pytest.raises(ValueError, match="1024 bytes"):
        Frame(bytes(size))


def test_the_leftmost_dot_is_the_highest_bit() -> None:
    bits = bytearray(WIDTH * HEIGHT // 8)
    bits[16] = 0b10000001
    frame = Frame(bytes(bits))
    assert [x for x in range(WIDTH) if frame.lit(x, 1)] == [0, 7]
    assert not frame.lit(0, 0)
