"""The pages for builders are drawn from the board, the bill, the self-test and the table of gestures, and are whole."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET  # our own pages; nothing foreign is parsed
from pathlib import Path

import pytest

import hardware.guide
from firmware.selftest.kinds import KINDS
from hardware.board.bill import own_bill
from hardware.board.table import own_board
from hardware.board.wiring import at_places
from hardware.guide.blocks import PAGES, drawn, page_text, renewed

FOLDER = Path(str(hardware.guide.__path__[0]))


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_as_it_would_be_drawn_now(name: str) -> None:
    assert renewed(page_text(name)) == page_text(name), "python -m tests.generate draws it anew"


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_well_formed_and_its_links_lead_somewhere(name: str) -> None:
    text = page_text(name)
    text = re.sub(r"<(meta|link|img)([^>]*)>", r"<\1\2/>", text).replace("<!doctype html>", "")
    root = ET.fromstring(text)  # noqa: S314 - our own page
    links = [one.get("href") for one in root.iter("a")] + [one.get("href") for one in root.iter("link")]
    for link in [*links, *(one.get("src") for one in root.iter("img"))]:
        assert (FOLDER / str(link)).exists(), link
    assert all(one.get("alt") for one in root.iter("img"))


def test_there_is_no_page_that_is_not_listed() -> None:
    assert {path.name for path in FOLDER.glob("*.html")} == set(PAGES)


def test_every_wire_of_both_variants_is_a_step() -> None:
    blocks = drawn()
    for variant, steps in (("A", blocks["wires a"]), ("B", blocks["wires a"] + blocks["wires b"])):
        for place, ends in at_places(own_board(variant)).items():
            assert f"Place {place} (" in steps
            assert all(end in steps for end in ends)
    assert "U3" not in blocks["wires a"]
    assert "U1.GND" in blocks["common"]


def test_every_fault_part_and_gesture_is_on_paper() -> None:
    build, card = page_text("build.html"), page_text("quick_card.html")
    assert build.count("<tr>") > len(KINDS) + len(own_bill())
    for words in ("drop a marker", "next step of the plan", "the other tuning sounds"):
        assert words in card
    assert "{" not in drawn()["faults"]


@pytest.mark.parametrize("word", ["Soldering", "Mains", "Hearing", "Edges", "Recording", "licensed people", "NIOSH"])
def test_the_cautions_stand_before_the_tools(word: str) -> None:
    before, tools, _ = page_text("build.html").partition("<h2>Tools</h2>")
    assert tools
    assert word in before
