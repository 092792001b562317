"""Writes the enclosure's files: `python -m hardware.enclosure.export FOLDER`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from hardware.board.mechanics import own_mechanics
from hardware.board.table import own_board
from hardware.enclosure.drawings import dxf_of, svg_of
from hardware.enclosure.panels import panels_of
from hardware.enclosure.picture import picture_of


def drawings() -> dict[str, str]:
    """Text of each drawing of the project's own enclosure, by the name of its file."""
    mechanics = own_mechanics(own_board())
    panels = panels_of(mechanics)
    return {
        "panels.svg": svg_of(panels),
        "panels.dxf": dxf_of(panels),
        "picture.svg": picture_of(panels, mechanics),
    }


def solids() -> dict[str, bytes]:
    """The parts to print as STL, by the name of their files; needs `manifold3d`."""
    from hardware.enclosure.solids import printed, stl_of  # noqa: PLC0415 - only who prints needs the library

    mechanics = own_mechanics(own_board())
    return {f"{name}.stl": stl_of(solid) for name, solid in printed(panels_of(mechanics), mechanics).items()}


def main(argv: Sequence[str] | None = None) -> int:
    """Write all drawings and parts into a folder."""
    parser = argparse.ArgumentParser(prog="python -m hardware.enclosure.export", description="The enclosure's files.")
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="where they are written")
    folder = parser.parse_args(argv).folder
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in drawings().items():
        (folder / name).write_text(text, encoding="utf-8")
    for name, data in solids().items():
        (folder / name).write_bytes(data)
    return 0


if __name__ == "__main__":
    sys.exit(main())
