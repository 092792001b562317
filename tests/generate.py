"""Draws anew what tests compare: `python -m tests.generate` at the top of the project. Look at it before you commit.

It writes the golden pictures of the panel in tests/golden, and the panel's tables in DEVELOPERS.md.
"""

from __future__ import annotations

from pathlib import Path

from firmware.screens.diagram import renewed
from firmware.screens.gallery import GALLERY
from firmware.screens.raster import png_of
from firmware.screens.render import render

ROOT = Path(__file__).parents[1]
GOLDEN = ROOT / "tests" / "golden"
DEVELOPERS = ROOT / "DEVELOPERS.md"


def draw_pictures() -> None:
    """Write a picture for every view of the gallery and remove those of views that are gone."""
    for old in GOLDEN.glob("*.png"):
        old.unlink()
    for name, view in GALLERY:
        (GOLDEN / f"{name}.png").write_bytes(png_of(render(view)))


def draw_tables() -> None:
    """Write the tables into the document."""
    DEVELOPERS.write_text(renewed(DEVELOPERS.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    draw_pictures()
    draw_tables()
