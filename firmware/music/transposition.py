"""Transposing parts: what a player reads for the pitch that sounds."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.errors import UnknownNameError
from firmware.music.notes import LETTER_SEMITONES, LETTERS, Note, PitchName, note_at, parse_pitch_name


@dataclass(frozen=True, slots=True)
class Instrument:
    """A part and its transposition: written = sounding moved up by steps (letters) and semitones, octaves included."""

    name: str
    title: str
    badge: str
    steps: int
    semitones: int


_B_FLAT, _E_FLAT, _F, _A, _G, _D_FLAT = "in B♭", "in E♭", "in F", "in A", "in G", "in D♭"
_HIGHER, _LOWER = "8va", "8vb"

INSTRUMENTS: tuple[Instrument, ...] = (
    Instrument("concert", "concert pitch", "", 0, 0),
    Instrument("piccolo", "piccolo", _HIGHER, -7, -12),
    Instrument("clarinet", "clarinet in B♭", _B_FLAT, 1, 2),
    Instrument("trumpet", "trumpet in B♭", _B_FLAT, 1, 2),
    Instrument("alto-saxophone", "alto saxophone", _E_FLAT, 5, 9),
    Instrument("tenor-saxophone", "tenor saxophone", _B_FLAT, 8, 14),
    Instrument("horn", "horn in F", _F, 4, 7),
    Instrument("double-bass", "double bass", _LOWER, 7, 12),
)


_SIMPLEST = tuple(map(parse_pitch_name, ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")))


def instrument_named(name: str) -> Instrument:
    """Find an instrument by its name."""
    for instrument in INSTRUMENTS:
        if instrument.name == name:
            return instrument
    raise UnknownNameError("instrument", name, (instrument.name for instrument in INSTRUMENTS))


def written(note: Note, instrument: Instrument) -> Note:
    """Return the note a player of the instrument reads for a note that sounds."""
    return moved(note, instrument.steps, instrument.semitones)


def concert(note: Note, instrument: Instrument) -> Note:
    """Return the note that sounds when a player of the instrument plays a written note."""
    return moved(note, -instrument.steps, -instrument.semitones)


def moved(note: Note, steps: int, semitones: int) -> Note:
    """Move a note by letters and semitones; one that would need three accidentals is respelled."""
    midi = note.midi + semitones
    letter = (LETTERS.index(note.name.letter) + steps) % 7
    alter = (midi - LETTER_SEMITONES[letter] + 6) % 12 - 6
    name = PitchName(LETTERS[letter], alter) if abs(alter) <= 2 else simplest(midi)
    return note_at(name, midi)


def simplest(midi: int) -> PitchName:
    """Name a pitch with at most one accidental, as the keys with the fewest flats or sharps do."""
    return _SIMPLEST[midi % 12]
