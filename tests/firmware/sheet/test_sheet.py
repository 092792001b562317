"""The sheet is whole, safe, asks for nothing and is the same every time."""

import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sheet.rehearsal import HeldNote, KeySpan, Rehearsal, TakeNote, TakePart
from firmware.sheet.sheet import CONSENT, HEARING, sheet_html
from firmware.sheet.timeline import timeline

VOID = {"meta", "link", "br", "hr", "img", "input"}


class Reader(HTMLParser):
    """Checks that tags nest, and keeps what a browser would make of the page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.stack: list[str] = []
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.text: list[str] = []
        self.feed(page)
        self.close()
        assert not self.stack

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.stack.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str):
        assert self.stack.pop() == tag

    def handle_data(self, data: str):
        self.text.append(data)

    def every(self, tag: str):
        return [attributes for name, attributes in self.tags if name == tag]


def words(page: Reader) -> str:
    return " ".join(" ".join(page.text).split())


def test_the_page_tells_what_happened(rehearsal: Rehearsal):
    page = Reader(sheet_html(rehearsal))
    told = words(page)
    for part in (
        "Warm-up & chorale",
        "Rehearsal 42 · 2026-11-25 · 1:30 · written for clarinet in B♭",
        "The third lay furthest off: 12 cents sharp over 3 notes; 1 of them came to rest.",
        "Letter A",
        "−22",
        "drone level",
        CONSENT,
        HEARING,
    ):
        assert part in told, part
    headings = [tag for tag, _ in page.tags if re.fullmatch(r"h\d", tag)]
    assert headings[0] == "h1"
    assert set(headings[1:]) == {"h2", "h3"}


def test_takes_can_be_played_and_chapters_jump_into_them(rehearsal: Rehearsal):
    page = Reader(sheet_html(rehearsal))
    assert [audio["src"] for audio in page.every("audio")] == ["take-01.flac", "take-02.flac"]
    assert all(audio["preload"] == "none" and audio["aria-label"] for audio in page.every("audio"))
    ids = {audio["id"] for audio in page.every("audio")}
    buttons = page.every("button")
    assert [(button["data-player"], button["data-at"]) for button in buttons] == [
        ("take-1-1", "4.500"),
        ("take-1-1", "12.000"),
    ]
    assert ids == {"take-1-1", "take-2-1"}


def test_nothing_is_asked_of_anywhere_else(rehearsal: Rehearsal):
    page = sheet_html(rehearsal)
    reader = Reader(page)
    names = {tag for tag, _ in reader.tags}
    assert not names & {"iframe", "img", "object", "embed", "form", "base", "foreignobject", "image", "use"}
    assert "url(" not in page
    assert "@import" not in page
    assert "//" not in re.sub(r"'sha256-[^']+'", "", page)
    for _, attributes in reader.tags:
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in {"src", "href"}:
                assert value == "data:," or re.fullmatch(r"[\w%.-]+\.flac|#[a-z]+", value)


def test_pictures_have_words_for_those_who_cannot_see_them(rehearsal: Rehearsal):
    page = sheet_html(rehearsal)
    pictures = re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL)
    assert len(pictures) == 3
    for picture in pictures:
        tree = ET.fromstring(picture)  # noqa: S314 - our own output, and nothing but well-formedness is wanted
        assert tree.get("role") == "img"
        title = tree.find("title")
        assert title is not None
        assert title.get("id") == tree.get("aria-labelledby")
        assert title.text
    assert "The rehearsal over 1:30: 2 keys, 6 held notes, 2 takes." in page
    assert "degree 3 12 cents sharp" in page


def test_sharp_is_up(rehearsal: Rehearsal, note: Callable[..., HeldNote]):
    picture = timeline(replace(rehearsal, notes=(note(1.0, "3", 15.0), note(2.0, "3", -15.0))))
    (drawn,) = re.findall(r'class="restless" d="([^"]+)"', picture)
    sharp, flat = (float(y) for y in re.findall(r"M[\d.]+ ([\d.]+)", drawn))
    assert sharp < flat


def test_a_short_key_has_no_name_in_its_box_but_one_to_point_at(rehearsal: Rehearsal):
    picture = timeline(rehearsal)
    assert '<text class="name off"' not in timeline(replace(rehearsal, seconds=400.0))
    assert "B♭ major, just, drone off, 0:00 to 0:05" in picture


@pytest.mark.parametrize("seconds", [0.0, 7.0, 90.0, 5400.0, 40_000.0])
def test_the_time_axis_has_a_handful_of_marks(seconds: float):
    marks = timeline(Rehearsal(1, seconds=seconds)).count('class="count"')
    assert 1 <= marks <= 13


def test_an_empty_rehearsal_has_a_page_too():
    told = words(Reader(sheet_html(Rehearsal(7))))
    assert "Rehearsal 7" in told
    assert "date: ____" in told
    assert "written in concert pitch" in told
    assert "Nothing was recorded." in told
    assert told.count("No note was held long enough to judge.") == 2
    assert HEARING not in told


def test_a_rehearsal_in_tune_blames_no_note(rehearsal: Rehearsal):
    told = words(Reader(sheet_html(replace(rehearsal, tolerance=25.0))))
    assert "Every held note lay within the tolerance." in told


def test_the_same_rehearsal_gives_the_same_bytes(rehearsal: Rehearsal):
    assert sheet_html(rehearsal).encode() == sheet_html(replace(rehearsal)).encode()


NASTY = st.one_of(st.text(max_size=12), st.sampled_from(('"><script>alert(1)</script>', "' onx='", "</svg>", "&lt;")))


@settings(max_examples=40, deadline=None)
@given(NASTY, NASTY, NASTY)
def test_no_text_can_break_the_page(title: str, name: str, file: str):
    nasty = Rehearsal(
        1,
        title=title,
        date=name,
        seconds=60.0,
        keys=(KeySpan(0.0, name, title),),
        notes=(HeldNote(1.0, 2.0, name, title, title, 20.0, 1.0),),
        takes=(TakeNote(1, 3.0, 5.0, ((1.0, title),), (TakePart(file, 5.0),)),),
        settings=((name, title),),
        reading=title,
    )
    page = Reader(sheet_html(nasty))
    assert len(page.every("script")) == 1
    assert not any(attribute.startswith("on") for _, attributes in page.tags for attribute in attributes)
    assert len(page.every("svg")) == 2
    assert page.every("script") == [{}]
