"""The compressed form of MusicXML: a zip archive whose META-INF/container.xml names the score (MusicXML 4.0, W3C).

Nothing is unpacked to a disk, and no more is unpacked than a score may be long, whatever the archive says of itself.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from typing import Final

from firmware.errors import BadFileError
from firmware.plan.safe_xml import Attributes, XmlReader

MOST_BYTES: Final = 16_000_000
"""Bytes of a file as it lies on the stick."""

MOST_UNPACKED: Final = 48_000_000
"""Bytes of a score when it is unpacked: some ten times a symphony's."""

MOST_ENTRIES: Final = 1000
LONGEST_CONTAINER: Final = 100_000
PIECE: Final = 1 << 16
CONTAINER: Final = "META-INF/container.xml"
SCORE_TYPES: Final = (
    "",
    "application/vnd.recordare.musicxml+xml",
    "application/vnd.recordare.musicxml",
    "application/xml",
    "text/xml",
)
"""Media types of a score in the container: none, the registered one, and what stands for it elsewhere."""

_BROKEN: Final = (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError, LookupError, OverflowError)
"""What the library raises for archives that are cut short, damaged, encrypted or of a kind that it can't read."""


def pieces_of(data: bytes, source: str) -> Iterator[bytes]:
    """Yield the XML of a score in pieces, from a plain file or a compressed one; the first bytes tell which.

    Raises
    ------
    BadFileError
        If the file is too long, or an archive that holds no score, is damaged, or unpacks to more than a score is long.
    """
    if len(data) > MOST_BYTES:
        raise BadFileError(source, f"{len(data)} bytes", f"a score of at most {MOST_BYTES} bytes")
    if not data.startswith(b"PK"):
        yield from (data[at : at + PIECE] for at in range(0, len(data), PIECE))
        return
    if data.count(b"PK\x01\x02") > MOST_ENTRIES:
        raise BadFileError(source, "more files", f"an archive of at most {MOST_ENTRIES} files")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            name = _rootfile(archive, source)
            yield from _unpacked(archive, name, source, MOST_UNPACKED)
    except BadFileError:
        raise
    except (*_BROKEN, ValueError) as error:
        allowed = "a MusicXML archive (.mxl) that is whole and not encrypted"
        raise BadFileError(source, str(error), allowed, "Export it again.") from error


def _unpacked(archive: zipfile.ZipFile, name: str, source: str, most: int) -> Iterator[bytes]:
    size = 0
    with archive.open(name) as file:
        while piece := file.read(PIECE):
            size += len(piece)
            if size > most:
                raise BadFileError(source, f"more in {name}", f"at most {most} bytes when it is unpacked")
            yield piece


def _rootfile(archive: zipfile.ZipFile, source: str) -> str:
    """Name of the score in the archive: the first that the container lists as one."""
    names = archive.namelist()
    if CONTAINER not in names:
        raise BadFileError(source, "no " + CONTAINER, "a MusicXML archive, which says there where its score is")
    found: list[str] = []

    def rootfile(attributes: Attributes) -> None:
        if attributes.get("media-type", "") in SCORE_TYPES:
            found.append(attributes.get("full-path", ""))

    reader = XmlReader(f"{source}, {CONTAINER}", {"rootfile": rootfile}, {})
    reader.read(_unpacked(archive, CONTAINER, source, LONGEST_CONTAINER))
    if not found:
        raise BadFileError(source, "no rootfile", "a container that names a MusicXML score")
    name = found[0]
    parts = name.replace("\\", "/").split("/")
    if name.startswith(("/", "\\")) or ".." in parts or ":" in name or name not in names:
        raise BadFileError(source, name, "the name of a file inside the archive", "Export it again.")
    return name
