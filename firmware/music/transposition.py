"""Transposing parts: what a player reads for the pitch that sounds."""

from __future__ import annotations

from firmware.errors import UnknownNameError
from firmware.music.instruments import INSTRUMENTS, Instrument
from firmware.music.keys import Key, usual_tonic
from firmware.music.notes import LETTER_SEMITONES, LETTERS, Note, PitchName, note_at, parse_pitch_name

__all__ = ["INSTRUMENTS", "Instrument", "concert", "instrument_named", "moved", "written", "written_key"]

MOST_ACCIDENTALS = 6
"""A written key signature with more sharps or flats than this is respelled: C♯ major becomes D♭ major."""

_SIMPLEST = tuple(parse_pitch_name(name) for name in ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"))


def instrument_named(name: str) -> Instrument:
    """Find an instrument by its name."""
    for instrument in INSTRUMENTS:
        if instrument.name == name:
            return instrument
    raise UnknownNameError("instrument", name, (instrument.name for instrument in INSTRUMENTS))


def written(note: Note, instrument: Instrument, key: Key | None = None) -> Note:
    """Return the note a player of the instrument reads for a note that sounds.

    With the concert key, the spelling follows the player's key, which may be respelled (see `written_key`), and
    double flats give way to the plain note.
    """
    if key is None:
        return moved(note, instrument.steps, instrument.semitones)
    there = moved(note, instrument.steps + _respelling(key, instrument), instrument.semitones)
    return note_at(_SIMPLEST[there.midi % 12], there.midi) if there.name.alter < -1 else there


def concert(note: Note, instrument: Instrument) -> Note:
    """Return the note that sounds when a player of the instrument plays a written note."""
    return moved(note, -instrument.steps, -instrument.semitones)


def written_key(key: Key, instrument: Instrument) -> Key:
    """Return the key a player of the instrument reads in, respelled when it had more than six sharps or flats."""
    direct = Key(_direct_tonic(key, instrument), key.mode)
    if abs(direct.signature) <= MOST_ACCIDENTALS:
        return direct
    return Key(usual_tonic(direct.tonic.semitones, key.mode), key.mode)


def moved(note: Note, steps: int, semitones: int) -> Note:
    """Move a note by letters and semitones; one that would need three accidentals gets its simplest name."""
    midi = note.midi + semitones
    letter = (LETTERS.index(note.name.letter) + steps) % 7
    alter = (midi - LETTER_SEMITONES[letter] + 6) % 12 - 6
    name = PitchName(LETTERS[letter], alter) if abs(alter) <= 2 else _SIMPLEST[midi % 12]
    return note_at(name, midi)


def _direct_tonic(key: Key, instrument: Instrument) -> PitchName:
    return moved(Note(key.tonic, 4), instrument.steps, instrument.semitones).name


def _respelling(key: Key, instrument: Instrument) -> int:
    """Letters that the respelling of the key moves every note by: -1, 0 or 1."""
    before, after = _direct_tonic(key, instrument), written_key(key, instrument).tonic
    return (LETTERS.index(after.letter) - LETTERS.index(before.letter) + 3) % 7 - 3
