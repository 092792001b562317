"""MIDI Tuning Standard messages, so that other instruments follow the tuning of the box.

Source: MIDI Association, *MIDI Tuning Messages* (with the scale/octave extension CA-021); the layout of the bytes is
from memory and is parsed back in the tests.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from firmware.errors import OutOfRangeError

REAL_TIME: Final = 0x7F
ALL_DEVICES: Final = 0x7F
TUNING: Final = 0x08
SINGLE_NOTE: Final = 0x02
SCALE_2_BYTES: Final = 0x09
ALL_CHANNELS: Final = (0x03, 0x7F, 0x7F)
"""Two bits for channels 16 and 15, then seven each down to channel 1."""

HALF: Final = 1 << 13
FULL: Final = 1 << 14
NO_CHANGE: Final = (0x7F, 0x7F, 0x7F)

SCALE_STEP_CENTS: Final = 100 / HALF
"""0.0122 cents; a pitch is at most half of that off."""

NOTE_STEP_CENTS: Final = 100 / FULL
"""0.0061 cents."""

MOST_NOTES: Final = 127


def scale_tuning(cents: Sequence[float]) -> bytes:
    """Scale/octave tuning in the 2-byte form, real time, for all channels and devices.

    Parameters
    ----------
    cents : sequence of float
        Offsets from equal temperament of C, C♯ and so on to B, each from -100 to 100 cents.

    Returns
    -------
    bytes
        The whole message, F0 to F7.

    Raises
    ------
    OutOfRangeError
        If there are not twelve, or one is more than a semitone off.
    """
    if len(cents) != 12:
        raise OutOfRangeError("offsets of a scale", len(cents), "twelve, from C to B")
    body: list[int] = []
    for offset in cents:
        if not -100 <= offset <= 100:
            raise OutOfRangeError("offset of a tone", offset, "-100 to 100 cents")
        body += _two(min(FULL - 1, round(offset / SCALE_STEP_CENTS) + HALF))
    return _message(SCALE_2_BYTES, *ALL_CHANNELS, *body)


def note_tuning(notes: Mapping[int, float], program: int = 0) -> bytes:
    """Single-note tuning change, real time: notes of a tuning program, each to any pitch.

    Parameters
    ----------
    notes : mapping
        By MIDI number 0 to 127: the pitch in semitones above MIDI note 0, 0 to below 128.
    program : int
        Tuning program, 0 to 127.

    Raises
    ------
    OutOfRangeError
        If a note, pitch or program is outside, or there are more than 127 notes.
    """
    _within("tuning program", program, 127)
    _within("number of notes", len(notes), MOST_NOTES)
    body: list[int] = [program, len(notes)]
    for note, pitch in notes.items():
        _within("MIDI note", note, 127)
        if not 0 <= pitch < 128:
            raise OutOfRangeError("pitch", pitch, "0 to below 128 semitones")
        # 7F 7F 7F means no change, so the highest step of all is not used.
        steps = min(round(pitch * FULL), 128 * FULL - 2)
        body += [note, steps >> 14, *_two(steps & (FULL - 1))]
    return _message(SINGLE_NOTE, *body)


@dataclass(frozen=True, slots=True)
class Retuned:
    """What a tuning message says: offsets of twelve tones in cents, or pitches of single notes in semitones."""

    scale: tuple[float, ...] = ()
    notes: tuple[tuple[int, float], ...] = ()


def read_tuning(message: bytes) -> Retuned:
    """Read back a message of either kind.

    Raises
    ------
    OutOfRangeError
        If it is none of the two.
    """
    head = message[:5]
    known = (0xF0, REAL_TIME, None, TUNING, None)
    fits = len(head) == 5 and all(want in (None, byte) for want, byte in zip(known, head, strict=True))
    body = message[5:-1]
    if fits and message[-1] == 0xF7 and all(byte < 0x80 for byte in body):
        if message[4] == SCALE_2_BYTES and len(body) == 27:
            pairs = zip(body[3::2], body[4::2], strict=True)
            return Retuned(scale=tuple(((high << 7 | low) - HALF) * SCALE_STEP_CENTS for high, low in pairs))
        if message[4] == SINGLE_NOTE and len(body) >= 2 and len(body) == 2 + 4 * body[1]:
            quads = (tuple(body[at : at + 4]) for at in range(2, len(body), 4))
            return Retuned(notes=tuple((n, x + (y << 7 | z) / FULL) for n, x, y, z in quads if (x, y, z) != NO_CHANGE))
    raise OutOfRangeError("tuning message", message.hex(" "), "a scale or single-note tuning change in real time")


def _two(value: int) -> tuple[int, int]:
    return value >> 7, value & 0x7F


def _message(kind: int, *body: int) -> bytes:
    return bytes((0xF0, REAL_TIME, ALL_DEVICES, TUNING, kind, *body, 0xF7))


def _within(thing: str, value: int, most: int) -> None:
    if not 0 <= value <= most:
        raise OutOfRangeError(thing, value, f"0 to {most}")
