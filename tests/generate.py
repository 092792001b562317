"""Draws anew what tests compare: `python -m tests.generate` at the top of the project. Look at it before you commit.

It writes the wiring of the board, the builders' pages, the enclosure, the golden pictures of the panel, the contact
sheet of the default rehearsal and the sheet of an invented one in tests/golden, the tables in DEVELOPERS.md, and the
figures of tests/speed/results in README.md.
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from firmware.screens.diagram import renewed
from firmware.screens.gallery import GALLERY
from firmware.screens.raster import png_of
from firmware.screens.render import render
from hardware.board.picture import draw_board
from hardware.board.table import VARIANTS, own_board
from hardware.board.wiring import drawings_of
from hardware.board.wiring import renewed as with_wiring
from hardware.desk import main
from hardware.enclosure.export import drawings
from hardware.guide.blocks import PAGES
from hardware.guide.blocks import renewed as with_blocks
from hardware.selftest_page import drawings_of as selftest_tables
from tests.sheet_pictures import draw_sheet
from tests.speed.summary import renewed as with_figures

ROOT = Path(__file__).parents[1]
GOLDEN = ROOT / "tests" / "golden"
DEVELOPERS = ROOT / "DEVELOPERS.md"
README = ROOT / "README.md"
BOARD = ROOT / "hardware" / "board"
GUIDE = ROOT / "hardware" / "guide"
ENCLOSURE = ROOT / "hardware" / "enclosure" / "sheets"


def draw_pictures() -> None:
    """Write a picture for every view of the gallery and remove those of views that are gone."""
    for old in GOLDEN.glob("*.png"):
        old.unlink()
    for name, view in GALLERY:
        (GOLDEN / f"{name}.png").write_bytes(png_of(render(view)))


def draw_tables() -> None:
    """Write the tables into the document."""
    DEVELOPERS.write_text(renewed(DEVELOPERS.read_text(encoding="utf-8")), encoding="utf-8")


def draw_rehearsal() -> None:
    """Run the default rehearsal and keep its contact sheet."""
    with TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        if main(["rehearse", "--quiet", "--out", str(out)]) == 0:
            (GOLDEN / "rehearsal").mkdir(exist_ok=True)
            (GOLDEN / "rehearsal" / "screens.png").write_bytes((out / "screens.png").read_bytes())


def draw_wiring() -> None:
    """Write the tables of the board into its page, and its pictures."""
    page = BOARD / "WIRING.md"
    drawn = with_wiring(page.read_text(encoding="utf-8"), drawings_of(own_board("A"), own_board("B")))
    page.write_text(drawn, encoding="utf-8")
    page = BOARD / "SELFTEST.md"
    page.write_text(with_wiring(page.read_text(encoding="utf-8"), selftest_tables(own_board())), encoding="utf-8")
    for variant in VARIANTS:
        (BOARD / f"wiring-{variant.lower()}.svg").write_text(draw_board(own_board(variant)), encoding="utf-8")


def draw_guide() -> None:
    """Write what the pages for builders take from data, and the drawings of the enclosure."""
    for name in PAGES:
        page = GUIDE / name
        page.write_text(with_blocks(page.read_text(encoding="utf-8")), encoding="utf-8")
    for name, text in drawings().items():
        (ENCLOSURE / name).write_text(text, encoding="utf-8")


def draw_figures() -> None:
    """Write the figures into the document."""
    README.write_text(with_figures(README.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    draw_wiring()
    draw_guide()
    draw_pictures()
    draw_rehearsal()
    draw_sheet(GOLDEN / "sheet")
    draw_tables()
    draw_figures()
