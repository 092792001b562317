"""How the system found the part of the card on which the box keeps things; the box says so when it is not well.

The image's unit keelnote-data mounts it and leaves one word behind (image-build/files/usr/lib/keelnote/data).
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final

PLACE: Final = Path("/run/keelnote-boot/data")
"""Of the word; not there on a box that was not made from the image."""

CARD_LOST: Final = "card-memory"
"""The line in `firmware.messages` for a card that can't be written, at the start or later."""

NOTICES: Final[Mapping[str, str]] = {
    "mended": "card-mended",
    "remade": "card-remade",
    "full": "card-full",
    "memory": CARD_LOST,
}
"""The line in `firmware.messages` that tells of a word; "ok" has none."""


def card_notices(place: Path = PLACE) -> tuple[str, ...]:
    """The lines that tell how the card was found; none if all is well."""
    word = ""
    with suppress(OSError, UnicodeDecodeError):
        word = place.read_text(encoding="ascii").strip()
    return (NOTICES[word],) if word in NOTICES else ()
