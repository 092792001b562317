"""XML without anything that reaches outside or grows."""

from __future__ import annotations

import gc

import pytest

from firmware.errors import BadFileError
from firmware.plan.safe_xml import LONGEST_TEXT, MOST_DEPTH, XmlReader


def read(text: str | bytes, piece: int = 7) -> list[object]:
    """What the handlers of a and b are told."""
    told: list[object] = []
    reader = XmlReader("x.xml", {"a": told.append}, {"b": told.append})
    data = text.encode() if isinstance(text, str) else text
    reader.read(data[at : at + piece] for at in range(0, len(data), piece))
    return told


def test_attributes_and_text_are_told_in_order() -> None:
    text = '<?xml version="1.0"?><r> x <a k="1"/><b> one </b><c>two</c><b>th<i>re</i>e</b><b/></r>'
    assert read(text) == [{"k": "1"}, "one", "three", ""]
    assert read(text, piece=1000) == read(text, piece=1)


def test_the_five_named_signs_and_numbered_ones_are_read() -> None:
    assert read("<b>&lt;&amp;&#9837;&#x266F;</b>") == ["<&♭♯"]


@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE b SYSTEM "file:///etc/passwd">',
        '<!DOCTYPE b PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">',
        "<!DOCTYPE b>",
    ],
)
def test_a_doctype_is_passed_over_and_never_loaded(doctype: str) -> None:
    assert read(f"{doctype}<b>one</b>") == ["one"]
    assert read(f"{doctype}<b>one &two; three</b>" if "SYSTEM" in doctype else "<b>one  three</b>") == ["one  three"]


@pytest.mark.parametrize(
    "inside",
    [
        '<!ENTITY b "c">',
        '<!ENTITY b SYSTEM "file:///etc/passwd">',
        '<!ENTITY % b SYSTEM "http://192.0.2.1/x"> %b;',
        '<!ENTITY a "aa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">',
        "<!ELEMENT b (#PCDATA)>",
        " ",
    ],
)
def test_a_document_that_defines_anything_is_refused(inside: str) -> None:
    with pytest.raises(BadFileError, match=r"x\.xml, line 1.*defines nothing of its own"):
        read(f"<!DOCTYPE b [{inside}]><b>one</b>")


def test_an_entity_that_nobody_defined_is_refused() -> None:
    with pytest.raises(BadFileError, match="undefined entity"):
        read("<b>&c;</b>")


def test_errors_name_the_line() -> None:
    with pytest.raises(BadFileError, match=r"x\.xml, line 3"):
        read("<b>\n\n</c>")


def test_depth_and_text_are_bounded() -> None:
    deep = MOST_DEPTH - 1
    assert read("<c>" * deep + "<b>x</b>" + "</c>" * deep) == ["x"]
    with pytest.raises(BadFileError, match="deep in each other"):
        read("<c>" * (MOST_DEPTH + 1))
    (kept,) = read("<b>" + "x" * 3 * LONGEST_TEXT + "</b>")
    assert len(str(kept)) == LONGEST_TEXT


def test_what_a_handler_refuses_is_passed_on_and_nothing_lingers() -> None:
    def refuse(_: object) -> None:
        raise BadFileError("x.xml", "a", "nothing")

    reader = XmlReader("x.xml", {"a": refuse}, {})
    with pytest.raises(BadFileError, match="nothing"):
        reader.read([b"<a/>"])
    gc.collect()
    del reader
    assert gc.collect() == 0
