"""XML read piece by piece, without anything of it that could reach outside, or grow."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final
from xml.parsers import expat

from firmware.errors import BadFileError

Attributes = dict[str, str]
LONGEST_TEXT: Final = 4000
"""Characters of one element that are kept."""

MOST_DEPTH: Final = 100
"""Elements inside each other; scores have a dozen."""


class XmlReader:
    """Calls a handler at the start or the end of elements by their names, in the order of the document.

    A DOCTYPE may stand at the top, as the files of many programs have one; what it points to is never loaded. One that
    defines anything itself is refused, so that no entity is ever expanded.

    Parameters
    ----------
    source : str
        Name of the file for errors.
    starts : mapping
        From a name to what is called with the attributes where such an element begins.
    ends : mapping
        From a name to what is called with the text of such an element where it ends.
    """

    def __init__(
        self,
        source: str,
        starts: Mapping[str, Callable[[Attributes], object]],
        ends: Mapping[str, Callable[[str], object]],
    ) -> None:
        self._source = source
        self._starts = starts
        self._ends = ends
        self._text: list[str] = []
        self._depth = 0
        self._parser = expat.ParserCreate()
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._parser.EntityDeclHandler = self._entity
        self._parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)

    def read(self, pieces: Iterable[bytes]) -> None:
        """Read a document from its bytes in pieces.

        Raises
        ------
        BadFileError
            If it is not XML, or defines entities; the line is named. What the handlers raise is passed on.
        """
        try:
            for piece in pieces:
                self._parser.Parse(piece, False)  # noqa: FBT003 - expat's own signature
            self._parser.Parse(b"", True)  # noqa: FBT003 - the same
        except expat.ExpatError as error:
            reason = expat.ErrorString(error.code)
            raise self.wrong(reason, "well-formed XML", "Export it again.", error.lineno) from error
        except (LookupError, ValueError) as error:
            if isinstance(error, BadFileError):
                raise
            raise self.wrong(str(error), "XML in UTF-8 or UTF-16", "Export it again.") from error
        finally:
            # The parser holds the handlers and they hold this reader: cut the ring, so that memory is free at once.
            self._parser.StartElementHandler = self._parser.EndElementHandler = None
            self._parser.StartDoctypeDeclHandler = self._parser.EntityDeclHandler = None
            self._parser.CharacterDataHandler = None

    def wrong(self, value: object, allowed: str, remedy: str = "", line: int | None = None) -> BadFileError:
        """An error that names the line."""
        return BadFileError(f"{self._source}, line {line or self._parser.CurrentLineNumber}", value, allowed, remedy)

    def _start(self, name: str, attributes: Attributes) -> None:
        self._depth += 1
        if self._depth > MOST_DEPTH:
            raise self.wrong(f"<{name}>", f"elements at most {MOST_DEPTH} deep in each other")
        handler = self._starts.get(name)
        if handler is not None:
            handler(attributes)
        if name in self._ends:
            self._text.clear()
            self._parser.CharacterDataHandler = self._more

    def _end(self, name: str) -> None:
        self._depth -= 1
        handler = self._ends.get(name)
        if handler is not None:
            self._parser.CharacterDataHandler = None
            text = "".join(self._text)
            self._text.clear()
            handler(text[:LONGEST_TEXT].strip())

    def _more(self, text: str) -> None:
        if len(self._text) < LONGEST_TEXT:
            self._text.append(text)

    def _doctype(self, name: str, _system: str | None, _public: str | None, inside: int) -> None:
        if inside:
            raise self.wrong(f"<!DOCTYPE {name} [", "a document that defines nothing of its own", "Export it again.")

    def _entity(self, name: str, *_: object) -> None:
        raise self.wrong(f"<!ENTITY {name}", "a document that defines no entities", "Export it again.")
