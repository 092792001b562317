"""The pages for builders in a real browser: they print, ask for nothing, and axe-core finds nothing against them.

Sources: Chromium from Debian, axe-core 4.12.1 (rules of WCAG 2.2 AA), pdfinfo from poppler.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

import hardware.guide

FOLDER = Path(str(hardware.guide.__path__[0]))
AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
PRINTED = {"quick_card.html": 1, "pa.html": 2, "build.html": 10}
"""Sheets of A4 that a page may take at most."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium is not installed; Debian's package of that name has it")
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield chromium
        chromium.close()


@pytest.mark.parametrize("name", PRINTED)
def test_a_page_is_accessible_and_prints(browser: Browser, tmp_path: Path, name: str) -> None:
    page = browser.new_page()
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.goto((FOLDER / name).as_uri())
    assert all(url.startswith("file://") for url in asked)
    assert page.evaluate("[...document.images].every(one => one.complete && one.naturalWidth > 0)")
    assert complaints == []  # before axe, which asks for the style sheet once more and may not
    page.evaluate(AXE)
    found = page.evaluate("axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', 'best-practice']})")
    assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []
    pdf = tmp_path / "page.pdf"
    page.pdf(path=str(pdf), prefer_css_page_size=True)
    told = subprocess.run(["pdfinfo", pdf], capture_output=True, check=True, text=True).stdout
    pages = re.search(r"Pages:\s+(\d+)", told)
    assert pages is not None
    assert int(pages[1]) <= PRINTED[name]
    page.close()
