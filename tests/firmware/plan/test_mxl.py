"""Compressed scores: found through the container, never unpacked beyond measure, whatever the archive says."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import BadFileError
from firmware.plan import mxl
from firmware.plan.musicxml import read_musicxml
from firmware.plan.mxl import CONTAINER, MOST_BYTES, MOST_ENTRIES, PIECE, pieces_of


def container(*names: str, media: str = "") -> str:
    kind = f' media-type="{media}"' if media else ""
    files = "".join(f'<rootfile full-path="{name}"{kind}/>' for name in names)
    return f"<container><rootfiles>{files}</rootfiles></container>"


def archive(files: dict[str, str | bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", compression) as made:
        for name, text in files.items():
            made.writestr(name, text)
    return out.getvalue()


def read(data: bytes) -> bytes:
    return b"".join(pieces_of(data, "hymn.mxl"))


def test_a_plain_file_is_given_as_it_is() -> None:
    data = b"<a/>" * PIECE
    assert read(data) == data


@pytest.mark.parametrize("media", ["", "application/vnd.recordare.musicxml+xml", "text/xml"])
@pytest.mark.parametrize("compression", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_the_container_says_where_the_score_is(media: str, compression: int) -> None:
    files = {CONTAINER: container("parts/hymn.musicxml", media=media), "other.xml": "no", "parts/hymn.musicxml": "yes"}
    assert read(archive(files, compression)) == b"yes"


def test_other_media_are_passed_over() -> None:
    both = (
        '<container><rootfile full-path="a.pdf" media-type="application/pdf"/><rootfile full-path="a.xml"/></container>'
    )
    assert read(archive({CONTAINER: both, "a.pdf": "no", "a.xml": "yes"})) == b"yes"


def test_a_compressed_score_reads_like_a_plain_one(score_xml: Callable[..., bytes]) -> None:
    plain = score_xml(["", ""])
    packed = archive({CONTAINER: container("score.xml"), "score.xml": plain})
    assert read_musicxml(packed, "hymn.mxl") == read_musicxml(plain, "hymn.xml")


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({"score.xml": "yes"}, "says there where its score is"),
        ({CONTAINER: "<container/>"}, "names a MusicXML score"),
        ({CONTAINER: "<container>"}, "well-formed XML"),
        ({CONTAINER: '<!DOCTYPE a [<!ENTITY b "c">]><a/>'}, "defines nothing of its own"),
        ({CONTAINER: container("missing.xml")}, "a file inside the archive"),
        ({CONTAINER: container("../secret.xml"), "../secret.xml": "no"}, "a file inside the archive"),
        ({CONTAINER: container("/secret.xml"), "/secret.xml": "no"}, "a file inside the archive"),
        ({CONTAINER: container("a/../b.xml"), "a/../b.xml": "no"}, "a file inside the archive"),
        ({CONTAINER: container("c:b.xml"), "c:b.xml": "no"}, "a file inside the archive"),
        ({CONTAINER: container("a.xml") + " " * 200_000, "a.xml": "no"}, "when it is unpacked"),
    ],
)
def test_what_is_wrong_with_an_archive_is_named(files: dict[str, str | bytes], words: str) -> None:
    with pytest.raises(BadFileError, match=words):
        read(archive(files))


def test_a_bomb_stops_when_it_is_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    bomb = archive({CONTAINER: container("a.xml"), "a.xml": b" " * 40 * PIECE})
    assert len(bomb) < PIECE
    monkeypatch.setattr(mxl, "MOST_UNPACKED", 30 * PIECE)
    given_out: list[int] = []
    with pytest.raises(BadFileError, match="when it is unpacked"):
        given_out.extend(map(len, pieces_of(bomb, "bomb.mxl")))
    assert sum(given_out) == 30 * PIECE


def test_an_archive_that_lies_about_its_size_is_not_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    bomb = bytearray(archive({CONTAINER: container("a.xml"), "a.xml": b" " * 40 * PIECE}))
    place = bomb.rindex(b"PK\x01\x02") + 24  # the size when unpacked, in the last entry of the directory
    bomb[place : place + 4] = (100).to_bytes(4, "little")
    monkeypatch.setattr(mxl, "MOST_UNPACKED", 30 * PIECE)
    with pytest.raises(BadFileError):
        read(bytes(bomb))


def test_too_many_files_and_too_large_ones_are_refused() -> None:
    with pytest.raises(BadFileError, match=f"at most {MOST_ENTRIES} files"):
        read(archive({f"{number}.xml": "" for number in range(MOST_ENTRIES + 1)}))
    with pytest.raises(BadFileError, match="bytes"):
        read(bytes(MOST_BYTES + 1))


def test_an_encrypted_archive_is_refused() -> None:
    data = bytearray(archive({CONTAINER: container("a.xml"), "a.xml": "yes"}))
    for sign, flag in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        at = -1
        while (at := data.find(sign, at + 1)) >= 0:
            data[at + flag] |= 1
    with pytest.raises(BadFileError, match="not encrypted"):
        read(bytes(data))


WHOLE = archive({CONTAINER: container("a.xml"), "a.xml": "<score/>" * 40})


@given(data=st.data())
def test_a_damaged_archive_is_read_or_refused(data: st.DataObject) -> None:
    broken = bytearray(WHOLE)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(2, len(broken) - 1))
        broken[at : at + data.draw(st.integers(0, 30))] = data.draw(st.binary(max_size=8))
    refused = ""
    try:
        read(bytes(broken))
    except BadFileError as error:
        refused = error.text
    assert refused.startswith("hymn.mxl") or not refused
