"""One picture of the OLED as a frozen value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

WIDTH: Final = 128
HEIGHT: Final = 64


@dataclass(frozen=True, slots=True)
class Frame:
    """128 x 64 pixels, row by row, eight to a byte, the leftmost in the highest bit; 1 is lit (Pillow's mode "1")."""

    bits: bytes = bytes(WIDTH * HEIGHT // 8)

    def __post_init__(self) -> None:
        """Refuse a picture of another size."""
        if len(self.bits) != WIDTH * HEIGHT // 8:
            message = f"a frame has {WIDTH * HEIGHT // 8} bytes, not {len(self.bits)}"
            raise ValueError(message)

    def lit(self, x: int, y: int) -> bool:
        """Whether the pixel at column x, row y is lit."""
        return bool(self.bits[(y * WIDTH + x) // 8] >> (7 - x % 8) & 1)
