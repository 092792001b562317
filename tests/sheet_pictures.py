"""Pictures of the sheet for README.md: light, dark and printed, by Chromium from an invented rehearsal of two hours."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from firmware.sheet.sheet import sheet_html
from tests.speed.sheet_evening import evening

WIDTH = 1040
HEIGHT = 1180
COLOURS = 48
"""Few colours make small files; the sheet has nine and their blends."""

SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")


def draw_sheet(folder: Path) -> None:
    """Write light.png, dark.png and print.png; nothing where there is no Chromium or no pdftoppm."""
    program, paper = shutil.which("chromium"), shutil.which("pdftoppm")
    if program is None or paper is None:
        return
    folder.mkdir(exist_ok=True)
    made = evening()
    with TemporaryDirectory() as place, sync_playwright() as driver:
        sheet = Path(place) / "sheet.html"
        sheet.write_text(sheet_html(replace(made.rehearsal, past=made.past)), encoding="utf-8")
        browser = driver.chromium.launch(executable_path=program, args=["--disable-gpu"])
        for scheme in SCHEMES:
            (folder / f"{scheme}.png").write_bytes(_small(_screen(browser, sheet, scheme)))
        page = browser.new_page()
        page.goto(sheet.as_uri())
        page.pdf(path=f"{place}/sheet.pdf", format="A4", print_background=True)
        browser.close()
        subprocess.run([paper, "-r", "100", "-png", "-singlefile", f"{place}/sheet.pdf", f"{place}/print"], check=True)
        (folder / "print.png").write_bytes(_small((Path(place) / "print.png").read_bytes()))


def _screen(browser: Browser, sheet: Path, scheme: Literal["light", "dark"]) -> bytes:
    page = browser.new_page(color_scheme=scheme, viewport={"width": WIDTH, "height": HEIGHT})
    page.goto(sheet.as_uri())
    taken = page.screenshot()
    page.close()
    return taken


def _small(png: bytes) -> bytes:
    out = BytesIO()
    with Image.open(BytesIO(png)) as image:
        image.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()
