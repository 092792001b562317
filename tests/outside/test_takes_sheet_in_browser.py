"""The sheet in a real browser, from its file, with the network off.

Sources: Chromium (Debian's package), driven by Playwright; axe-core 4.12 (Deque), which knows WCAG 2.2 (W3C); pdfinfo
(poppler) counts printed pages.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from firmware.sheet.past import past_meta
from firmware.sheet.rehearsal import PlanSpan, Rehearsal, TakeNote, TakePart
from firmware.sheet.sheet import sheet_html
from firmware.units import RATE
from hardware.desk import main
from hardware.drivers.stick import FolderStick
from tests.speed.sheet_evening import evening

pytestmark = pytest.mark.long

FOLDER = "rehearsals/0023"
AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
"""axe-core as npm has it (4.12.1), brought by a package of PyPI."""

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PAPERS = {"A4": (210 - 18, 297 - 18), "Letter": (215.9 - 18, 279.4 - 18)}
"""Width and height in millimetres inside the page's margins."""

OFFLINE = ("--disable-gpu", "--disable-background-networking", "--host-resolver-rules=MAP * ~NOTFOUND")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium is not installed; Debian's package of that name has it")
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=program, args=list(OFFLINE))
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A stick with two hours of rehearsal; take 1 in two files, take 2 whole, take 3 unreadable, the others deleted."""
    stick = FolderStick(tmp_path_factory.mktemp("stick") / "KEELNOTE")
    told = evening().files
    assert told.log is not None
    assert told.notes is not None
    stick.write_text(f"{FOLDER}/log.jsonl", told.log)
    stick.write_text(f"{FOLDER}/notes.csv", told.notes)
    for number in (1, 2, 3):
        stick.write_text(f"{FOLDER}/take-{number:02d}.vtt", told.chapters[number])
    for past in evening().past:
        stick.write_text(f"rehearsals/{past.number:04d}/sheet.html", past_meta(past))
    time = np.arange(100 * RATE) / RATE
    sound = (0.1 * np.sin(2 * np.pi * 220.0 * time)).astype(np.float32)
    for name in ("take-01.flac", "take-01-2.flac", "take-02.flac"):
        take = stick.open_take(f"{FOLDER}/{name}")
        take.write(sound)
        take.close()
    stick.write_text(f"{FOLDER}/take-03.flac", "this is no recording")
    assert main(["sheet", str(stick.root / FOLDER)]) == 0
    return stick.root / FOLDER / "sheet.html"


class Watched:
    """A page that remembers every complaint of the browser and every request."""

    def __init__(self, page: Page, sheet: Path) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.requests: list[str] = []
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", lambda request: self.requests.append(request.url))
        page.goto(sheet.as_uri())

    def audio(self, name: str) -> dict[str, Any]:
        """State of a player."""
        script = "id => { const a = document.getElementById(id); return {at: a.currentTime, paused: a.paused}; }"
        return dict(self.page.evaluate(script, name))

    def wait_until_played(self, name: str, beyond: float) -> dict[str, Any]:
        # Asked again from here: the browser's own polling evaluates strings, which the sheet's policy forbids.
        for _ in range(400):
            state = self.audio(name)
            if not state["paused"] and state["at"] > beyond:
                return state
            self.page.wait_for_timeout(50)
        pytest.fail(f"{name} did not play beyond {beyond} s: {state}")


@pytest.fixture
def watched(browser: Browser, sheet: Path) -> Iterator[Watched]:
    context = browser.new_context(offline=True, viewport={"width": 1120, "height": 900})
    yield Watched(context.new_page(), sheet)
    context.close()


def test_it_loads_from_its_file_without_a_complaint_and_asks_for_nothing(watched: Watched, sheet: Path) -> None:
    assert watched.page.inner_text("h1") == "Second full rehearsal"
    watched.page.wait_for_timeout(300)
    assert watched.requests == [sheet.as_uri()]
    assert watched.complaints == []
    assert watched.page.evaluate("document.styleSheets.length") == 1


def test_a_take_is_played_in_place_by_the_keyboard(watched: Watched) -> None:
    watched.page.focus("#take-2-1")
    watched.page.keyboard.press("Space")
    played = watched.wait_until_played("take-2-1", 0.3)
    assert played["at"] < 10.0
    length = watched.page.evaluate("document.getElementById('take-2-1').duration")
    assert length == pytest.approx(100.0, abs=0.01)
    assert watched.complaints == []


def test_a_chapter_jumps_also_into_the_second_file(watched: Watched) -> None:
    buttons = watched.page.locator("button[data-player^='take-1-']")
    targets = [(one.get_attribute("data-player"), float(one.get_attribute("data-at") or 0)) for one in buttons.all()]
    assert {player for player, _ in targets} == {"take-1-1", "take-1-2"}
    for index in (1, len(targets) - 1, 0):
        player, at = targets[index]
        assert player is not None
        buttons.nth(index).focus()
        watched.page.keyboard.press("Enter")
        played = watched.wait_until_played(player, at)
        assert at <= played["at"] < at + 5.0
        other = "take-1-2" if player == "take-1-1" else "take-1-1"
        assert watched.audio(other)["paused"]
    assert watched.complaints == []


def test_a_take_that_cannot_be_played_is_said_so(watched: Watched) -> None:
    watched.page.locator("button[data-player='take-3-1']").first.click()
    expect(watched.page.locator("#said")).to_have_text("This take could not be played.", timeout=20_000)


def test_the_keyboard_reaches_every_control_and_shows_where_it_is(watched: Watched) -> None:
    watched.page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    controls = "button, audio, summary, nav a, .scroll"
    watched.page.evaluate("wanted => document.querySelectorAll(wanted).forEach((e, n) => { e.n = n; })", controls)
    reached = set()
    for _ in range(400):
        watched.page.keyboard.press("Tab")
        number, outline = watched.page.evaluate(
            "[document.activeElement.n, getComputedStyle(document.activeElement).outlineStyle]"
        )
        if number is None:
            break
        assert outline == "solid", watched.page.evaluate("document.activeElement.outerHTML.slice(0, 200)")
        reached.add(number)
    assert len(reached) == watched.page.locator(controls).count()


def violations(page: Page) -> list[str]:
    """What axe-core finds wrong, as rule and place."""
    page.evaluate(AXE)
    found = page.evaluate("tags => axe.run(document, {runOnly: tags})", RULES)
    assert len(found["passes"]) > 20, "axe-core did not look"
    return [f"{one['id']}: {node['target']}" for one in found["violations"] for node in one["nodes"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1120, 320])
def test_axe_finds_nothing_wrong(browser: Browser, sheet: Path, scheme: Literal["light", "dark"], width: int) -> None:
    context = browser.new_context(offline=True, color_scheme=scheme, viewport={"width": width, "height": 900})
    page = context.new_page()
    page.goto(sheet.as_uri())
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert violations(page) == []
    background = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert (sum(map(int, re.findall(r"\d+", background)[:3])) < 200) == (scheme == "dark")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_axe_would_find_something(browser: Browser, sheet: Path) -> None:
    page = browser.new_page()
    page.goto(sheet.as_uri())
    page.evaluate("document.querySelector('.facts').textContent = ''; document.querySelector('audio').id = 'said';")
    page.evaluate("document.querySelectorAll('button')[0].removeAttribute('aria-label')")
    page.evaluate("document.querySelectorAll('button')[0].textContent = ''")
    assert any(one.startswith("button-name") for one in violations(page))
    page.close()


def test_no_title_runs_or_turns_the_page_around(browser: Browser, tmp_path: Path) -> None:
    hebrew, trumpet, turned = "\u05e9\u05dc\u05d5\u05dd", "\U0001f3ba", "\u202e"
    odd = f"<script>document.title = 'taken'</script>\"'><img src=x onerror=alert(1)> {hebrew} {trumpet}{turned}"
    told = evening().rehearsal
    steps = (PlanSpan(0.0, odd, odd),)
    takes = (replace(told.takes[0], markers=((1.0, odd),)),)
    place = tmp_path / "sheet.html"
    place.write_text(sheet_html(replace(told, title=odd, takes=takes, steps=steps)), encoding="utf-8")
    context = browser.new_context(offline=True)
    watched = Watched(context.new_page(), place)
    assert watched.page.title() == odd
    assert watched.page.inner_text("h1") == odd
    assert watched.page.locator("img").count() == 0
    assert watched.page.locator("button bdi").inner_text() == odd
    assert watched.complaints == []
    context.close()


def test_a_script_that_was_smuggled_in_would_not_run(browser: Browser, sheet: Path, tmp_path: Path) -> None:
    place = tmp_path / "sheet.html"
    page = sheet.read_text(encoding="utf-8")
    place.write_text(page.replace("<main>", "<main><script>document.title = 'taken'</script>"), encoding="utf-8")
    context = browser.new_context(offline=True)
    watched = Watched(context.new_page(), place)
    assert watched.page.title() == "Second full rehearsal"
    assert "Content Security Policy" in watched.complaints[0]
    context.close()


def wild() -> Rehearsal:
    """More of everything than a page has room for, with the longest words."""
    full = replace(evening().rehearsal, past=evening().past, title="A very long title of a rehearsal " * 12)
    sections = tuple(replace(note, section=f"instrument {n % 9} in B♭") for n, note in enumerate(full.notes))
    markers = tuple((1.0 * m, "Marker " * 30) for m in range(30))
    takes = tuple(TakeNote(n, 100.0 * n, 90.0, markers, (TakePart(f"take-{n:02d}.flac", 90.0),)) for n in range(1, 41))
    steps = tuple(PlanSpan(60.0 * n, "A step with a long name that goes on " * 2) for n in range(100))
    return replace(full, notes=sections, takes=takes, steps=steps, timings=full.timings * 5, chords=full.chords * 3)


REHEARSALS = {
    "two hours": lambda: replace(evening().rehearsal, past=evening().past),
    "wild": wild,
    "nothing": lambda: Rehearsal(1),
}


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("name", sorted(REHEARSALS))
def test_it_prints_on_one_page(browser: Browser, tmp_path: Path, name: str, paper: str) -> None:
    place, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    place.write_text(sheet_html(REHEARSALS[name]()), encoding="utf-8")
    page = browser.new_page(color_scheme="dark")
    page.goto(place.as_uri())
    page.pdf(path=pdf, format=paper, print_background=True)
    page.close()
    told = subprocess.run(["pdfinfo", str(pdf)], capture_output=True, check=True, text=True).stdout
    assert re.search(r"^Pages:\s+1$", told, flags=re.MULTILINE)
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, check=True, text=True).stdout
    assert "follow those" in text
    assert "What was found" in text


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_nothing_of_two_full_hours_is_cut_off_in_print(browser: Browser, sheet: Path, paper: str) -> None:
    width, height = (round(length / 25.4 * 96) for length in PAPERS[paper])
    page = browser.new_page(viewport={"width": width, "height": height})
    page.emulate_media(media="print")
    page.goto(sheet.as_uri())
    sizes = "[document.querySelector('main')].flatMap(m => [m.scrollWidth - m.clientWidth, m.scrollHeight])"
    over = page.evaluate(sizes)
    assert over[0] == 0
    assert over[1] <= height
    page.close()
