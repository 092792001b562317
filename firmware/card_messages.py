"""Lines about the box's own SD card, on which settings and takes wait while there is no stick."""

from __future__ import annotations

from typing import Final

from firmware.message import Message

CARD: Final[tuple[Message, ...]] = (
    Message(
        "card-mended",
        "SD card was mended",
        "The part of the SD card on which the box keeps things was damaged, by a power cut perhaps, and was mended.",
    ),
    Message(
        "card-remade",
        "SD card was made anew",
        "The part of the SD card on which the box keeps things was beyond repair and was made anew, empty. If it "
        "happens again, put in a new card.",
    ),
    Message(
        "card-full",
        "SD card is full: put stick in",
        "The SD card is full of takes that wait for their stick. Put it in, and they are brought to it.",
    ),
    Message(
        "card-memory",
        "SD card can't be written",
        "The SD card can't be written to. The box plays; what it would keep on the card is lost with the power. Put in "
        "a new card.",
    ),
)
