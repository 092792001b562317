"""Draws the golden pictures anew: `python tests/golden/redraw.py`. Look at them before you commit."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from firmware.screens.gallery import GALLERY
from firmware.screens.raster import png_of
from firmware.screens.render import render

FOLDER = Path(__file__).parent


def main() -> None:
    """Write a picture for every view of the gallery and remove those of views that are gone."""
    for old in FOLDER.glob("*.png"):
        old.unlink()
    for name, view in GALLERY:
        (FOLDER / f"{name}.png").write_bytes(png_of(render(view)))


if __name__ == "__main__":
    main()
