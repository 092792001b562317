"""Makes the box's modules load in two thirds of the time: what `dataclasses` would compile for each class is kept.

Each of some 400 frozen dataclasses has methods that Python writes as text and compiles when the class is made, which no
byte code of its module holds: nearly half of the time that the box takes to load. The image is made once and read only,
so their code is compiled when it is made, and found by its text when the box starts. A text that was not there then is
compiled as ever: what comes out is always the same.
"""

from __future__ import annotations

import dataclasses
import importlib
import marshal
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from types import CodeType
from typing import Final

KEPT: Final = Path("/usr/share/keelnote/dataclasses")
"""Where the image has it; good for the Python that wrote it, which is the image's own."""

BOX: Final = ("hardware.desk",)
"""What is loaded when the box starts, with all that it imports."""

NAME: Final = "exec"
"""A name that `dataclasses` looks up in its own module first, then in the built-in ones."""

NO_REFERENCES: Final = 2
"""The version of marshal whose output says nothing of how often an object was in use, so that it is always the same."""


@contextmanager
def recording() -> Iterator[dict[str, CodeType]]:
    """Give a table that fills with the code of every dataclass that is made meanwhile, by its text."""
    found: dict[str, CodeType] = {}

    def run(text: str, outside: dict[str, object], names: dict[str, object]) -> None:
        found[text] = compile(text, "<string>", "exec")
        exec(found[text], outside, names)  # noqa: S102 - as dataclasses does it

    vars(dataclasses)[NAME] = run
    try:
        yield found
    finally:
        del vars(dataclasses)[NAME]


@contextmanager
def loading(kept: Mapping[str, CodeType]) -> Iterator[None]:
    """Have dataclasses that are made meanwhile take their code from a table."""

    def run(text: str, outside: dict[str, object], names: dict[str, object]) -> None:
        exec(kept.get(text, text), outside, names)  # noqa: S102 - as dataclasses does it

    vars(dataclasses)[NAME] = run
    try:
        yield
    finally:
        del vars(dataclasses)[NAME]


def read(path: Path = KEPT) -> Mapping[str, CodeType]:
    """Give what is kept; nothing if there is none, or none that this Python can read."""
    with suppress(OSError, ValueError, EOFError, TypeError):
        kept: dict[str, CodeType] = marshal.loads(path.read_bytes())  # noqa: S302 - a part of the image, as its modules
        return kept
    return {}


def main(argv: Sequence[str]) -> int:
    """Load the box, and write what was made into a file: for who makes the image."""
    with recording() as found:
        for name in BOX:
            importlib.import_module(name)
    Path(argv[1]).write_bytes(marshal.dumps(found, NO_REFERENCES))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
