"""The box's own fonts, one file each."""

from __future__ import annotations

from typing import Final

from firmware.screens.font import Font
from firmware.screens.fonts import huge, large, middle, small

SMALL: Final = small.FONT
MIDDLE: Final = middle.FONT
LARGE: Final = large.FONT
HUGE: Final = huge.FONT

FONTS: Final[tuple[Font, ...]] = (SMALL, MIDDLE, LARGE, HUGE)
