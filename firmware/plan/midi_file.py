"""Standard MIDI Files, as much of them as a pulse needs: tempos, time signatures and percussion.

Format and names: "Standard MIDI Files 1.0" (MIDI Association, RP-001). Formats 0 and 1 with ticks per quarter note are
read; format 2 and SMPTE time are refused. One liberty: a meta event does not end running status, since many programs
write files that rely on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from firmware.errors import BadFileError
from firmware.music.general_midi import PERCUSSION_CHANNEL
from firmware.music.meter import MOST_UNITS

MOST_BYTES: Final = 2_000_000
MOST_EVENTS: Final = 250_000
MOST_STROKES: Final = 50_000
MOST_CHANGES: Final = 20_000
"""A symphony stays far below each of these; what lies above them would keep the box busy for long."""

MOST_FIFTHS: Final = 7
"""Sharps or flats of a signature; others are passed over."""

LAST_TICK: Final = 2**31
FASTEST: Final = 30_000
"""Microseconds to a quarter note: 2000 a minute, faster than anything that is played."""

DEFAULT_TEMPO: Final = 500_000
"""Microseconds to a quarter note where a file sets no tempo (RP-001)."""

DATA_BYTES: Final = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
"""Data bytes of a channel message by the upper half of its status byte."""

SET_TEMPO, TIME_SIGNATURE, KEY_SIGNATURE, END_OF_TRACK, TRACK_NAME = 0x51, 0x58, 0x59, 0x2F, 0x03


@dataclass(frozen=True, slots=True)
class MidiFile:
    """What a file holds for the pulse; all times are ticks from its beginning, in their order.

    Parameters
    ----------
    division : int
        Ticks to a quarter note.
    tempos : tuple of (tick, microseconds to a quarter note)
    signatures : tuple of (tick, numerator, denominator)
    strokes : tuple of (tick, key, velocity)
        Notes that begin on channel 10.
    end : int
        Tick of the last end of a track.
    title : str
        Name of the first track.
    keys : tuple of (tick, (sharps or flats below 0, "major" or "minor"))
    """

    division: int
    tempos: tuple[tuple[int, int], ...] = ()
    signatures: tuple[tuple[int, int, int], ...] = ()
    strokes: tuple[tuple[int, int, int], ...] = ()
    end: int = 0
    title: str = ""
    keys: tuple[tuple[int, tuple[int, str]], ...] = ()


def read_midi(data: bytes, source: str) -> MidiFile:
    """Read a Standard MIDI File.

    Raises
    ------
    BadFileError
        If it is none, is cut short, is of a kind that is not read, or is too large; the place is named.
    """
    if len(data) > MOST_BYTES:
        raise _refused(source, f"{len(data)} bytes", f"a MIDI file of at most {MOST_BYTES} bytes")
    reader = _Reader(data, source)
    division, tracks = reader.header()
    while len(reader.ends) < tracks:
        reader.chunk()
    return MidiFile(
        division=division,
        tempos=tuple(sorted(reader.tempos, key=lambda one: one[0])),
        signatures=tuple(sorted(reader.signatures, key=lambda one: one[0])),
        strokes=tuple(sorted(reader.strokes, key=lambda one: one[0])),
        end=max(reader.ends),
        title=reader.title,
        keys=tuple(sorted(reader.keys, key=lambda one: one[0])),
    )


def _refused(source: str, value: object, allowed: str, remedy: str = "") -> BadFileError:
    return BadFileError(source, value, allowed, remedy)


class _Reader:
    """A place in the bytes of one file."""

    def __init__(self, data: bytes, source: str) -> None:
        self.data = data
        self.source = source
        self.at = 0
        self.events = 0
        self.tempos: list[tuple[int, int]] = []
        self.signatures: list[tuple[int, int, int]] = []
        self.strokes: list[tuple[int, int, int]] = []
        self.ends: list[int] = []
        self.title = ""
        self.keys: list[tuple[int, tuple[int, str]]] = []

    def wrong(self, found: str, allowed: str, remedy: str = "") -> BadFileError:
        return _refused(f"{self.source}, byte {self.at}", found, allowed, remedy)

    def header(self) -> tuple[int, int]:
        """Ticks to a quarter note and number of tracks."""
        if self.data[:4] != b"MThd" or len(self.data) < 14:
            raise self.wrong("no MThd", "a Standard MIDI File, which begins with MThd")
        size = int.from_bytes(self.data[4:8], "big")
        kind, tracks, division = (int.from_bytes(self.data[at : at + 2], "big") for at in (8, 10, 12))
        if size < 6:
            raise self.wrong(f"a header of {size} bytes", "a header of 6 bytes or more")
        if kind not in (0, 1):
            raise self.wrong(f"format {kind}", "format 0 or 1", "Export it with all tracks in one song.")
        if division & 0x8000:
            remedy = "Export it with ticks per quarter note (PPQ)."
            raise self.wrong("SMPTE time division", "time in ticks per quarter note", remedy)
        if division == 0:
            raise self.wrong("0 ticks to a quarter note", "1 to 32767 ticks to a quarter note")
        self.at = 8 + size
        return division, max(tracks, 1)

    def chunk(self) -> None:
        """Read a track, or pass over a chunk of another kind."""
        if self.at + 8 > len(self.data):
            raise self.wrong("end of the file", "as many tracks as the header says; the file is cut short")
        kind = self.data[self.at : self.at + 4]
        size = int.from_bytes(self.data[self.at + 4 : self.at + 8], "big")
        end = self.at + 8 + size
        if end > len(self.data):
            raise self.wrong(f"a chunk of {size} bytes", "a chunk that ends within the file; it is cut short")
        if kind == b"MTrk":
            self.at += 8
            self.track(end)
        self.at = end

    def track(self, end: int) -> None:
        """Read the events of a track up to its end."""
        data, tick, status = self.data, 0, 0
        while self.at < end:
            tick += self.number(end)
            self.events += 1
            if self.events > MOST_EVENTS or tick > LAST_TICK:
                raise self.wrong("more", f"at most {MOST_EVENTS} events within {LAST_TICK} ticks")
            first = data[self.at] if self.at < end else 0
            if first >= 0xF0:
                if self.special(first, tick, end):
                    break
                status = status if first == 0xFF else 0
                continue
            if first >= 0x80:
                status = first
                self.at += 1
            if not status:
                raise self.wrong("data without a status byte", "an event, which begins with a status byte")
            self.message(status, tick, end)
        self.ends.append(tick)

    def number(self, end: int) -> int:
        """Read a variable-length quantity of one to four bytes."""
        value = 0
        for at in range(self.at, min(self.at + 4, end)):
            byte = self.data[at]
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                self.at = at + 1
                return value
        raise self.wrong("a length or time without an end", "a variable-length quantity of at most four bytes")

    def message(self, status: int, tick: int, end: int) -> None:
        """Pass over a channel message; keep it when it strikes percussion."""
        size = DATA_BYTES[status >> 4]
        body = self.data[self.at : min(self.at + size, end)]
        if len(body) < size or max(body) > 0x7F:
            raise self.wrong("a message that breaks off", f"{size} data bytes below 128 after status {status:#x}")
        self.at += size
        if status == 0x90 | PERCUSSION_CHANNEL and body[1]:
            self.strokes.append((tick, body[0], body[1]))
            if len(self.strokes) > MOST_STROKES:
                raise self.wrong("more", f"at most {MOST_STROKES} percussion notes")

    def special(self, first: int, tick: int, end: int) -> bool:
        """Read a meta event or pass over a system exclusive one; whether the track ends with it."""
        if first not in (0xF0, 0xF7, 0xFF):
            raise self.wrong(f"status {first:#x}", "a channel message, F0, F7 or FF, as files may hold")
        kind = self.data[self.at + 1] if first == 0xFF and self.at + 1 < end else 0
        self.at += 2 if first == 0xFF else 1
        size = self.number(end)
        body = self.data[self.at : self.at + size]
        if self.at + size > end:
            raise self.wrong(f"an event of {size} bytes", "an event that ends within its track")
        if first == 0xFF:
            self.meta(kind, body, tick)
        self.at += size
        return first == 0xFF and kind == END_OF_TRACK

    def meta(self, kind: int, body: bytes, tick: int) -> None:
        """Keep a tempo, a time or key signature, the first track's name."""
        if kind == SET_TEMPO:
            tempo = int.from_bytes(body, "big")
            if len(body) != 3 or tempo < FASTEST:
                raise self.wrong(f"a tempo of {tempo} µs", f"three bytes, {FASTEST} µs or more to a quarter note")
            self.tempos.append((tick, tempo))
        elif kind == TIME_SIGNATURE:
            if len(body) < 2 or not 0 < body[0] <= MOST_UNITS or body[1] > 6:
                raise self.wrong("a time signature", f"1 to {MOST_UNITS} over 1, 2, 4, 8, 16, 32 or 64")
            self.signatures.append((tick, body[0], 1 << body[1]))
        elif kind == KEY_SIGNATURE and len(body) == 2 and body[1] <= 1:
            fifths = int.from_bytes(body[:1], "big", signed=True)
            if abs(fifths) <= MOST_FIFTHS:
                self.keys.append((tick, (fifths, "minor" if body[1] else "major")))
        elif kind == TRACK_NAME and not self.title and not self.ends:
            self.title = "".join(sign for sign in body[:80].decode("latin-1") if sign.isprintable()).strip()
        if len(self.tempos) + len(self.signatures) + len(self.keys) > MOST_CHANGES:
            raise self.wrong("more", f"at most {MOST_CHANGES} changes of tempo, meter and key")
