"""How the notes of a keyboard are tuned: by the key, or as the chord that they make."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

from firmware.music.harmony import Harmony
from firmware.music.intervals import OCTAVE, UNISON, Interval
from firmware.music.midi_tuning import note_tuning, scale_tuning
from firmware.music.moving.choices import TunedChord, choice_named, tune
from firmware.music.moving.recognise import recognised
from firmware.music.naming import targets_of
from firmware.music.notes import A4_MIDI
from firmware.units import cents_of

BY_KEY: Final = "key"
STANDARD_HZ: Final = 440.0
"""What equal temperament counts from in the MIDI Tuning Standard."""

_OCTAVE: Final = 4


@dataclass(frozen=True, slots=True)
class Fingered:
    """The twelve tones as the keyboard sounds them now, and the chord by which they were tuned last."""

    tones: Mapping[int, Interval] = field(default_factory=lambda: MappingProxyType({}))
    """By semitones above the tonic, 0 to 11; a tone that is not there has its place in the key."""
    chord: TunedChord | None = None


def fingered(notes: Iterable[int], harmony: Harmony, rule: str, before: Fingered) -> Fingered:
    """Tune the notes that sound together.

    Parameters
    ----------
    notes : iterable of int
        MIDI numbers.
    harmony : Harmony
        Key, tuning and reference.
    rule : str
        `BY_KEY`, or the name of a choice in `firmware.music.moving.choices` by which chords follow each other.
    before : Fingered
        What the notes before came to.

    Returns
    -------
    Fingered
        Notes that make no chord stay as they were; new ones among them take their place in the key.
    """
    if rule == BY_KEY:
        return Fingered()
    sounding = {(note - harmony.tonic(_OCTAVE).midi) % 12 for note in notes}
    symbol = recognised(note - harmony.tonic(_OCTAVE).midi for note in notes)
    if symbol is None:
        return replace(before, tones={n: tone for n, tone in before.tones.items() if n in sounding})
    chord = tune(symbol, replace(harmony, held=None), choice_named(rule), before.chord)
    return Fingered(chord.tones, chord)


def interval_of(semitones: int, harmony: Harmony, played: Fingered) -> Interval:
    """Interval from the tonic to a tone 0 to 11 semitones above it, as the keyboard has it now."""
    return played.tones.get(semitones) or targets_of(harmony)[semitones]


def hz_of(note: int, harmony: Harmony, played: Fingered) -> float:
    """Frequency of a MIDI note as the keyboard has it now, in Hz."""
    octaves, semitones = divmod(note - harmony.tonic(_OCTAVE).midi, 12)
    return harmony.hz_of(_OCTAVE, interval_of(semitones, harmony, played) * OCTAVE**octaves)


def offsets_of(harmony: Harmony, played: Fingered) -> tuple[float, ...]:
    """Cents by which the tones from C to B lie above equal temperament at A4 = 440 Hz."""
    tonic = harmony.tonic(_OCTAVE)
    base = cents_of(harmony.hz_of(_OCTAVE, UNISON) / STANDARD_HZ) - 100 * (tonic.midi - A4_MIDI)
    above = ((pitch - tonic.midi) % 12 for pitch in range(12))
    return tuple(base + interval_of(n, harmony, played).cents - 100 * n for n in above)


def tuning_message(harmony: Harmony, played: Fingered, *, single: bool) -> bytes:
    """MIDI message that tunes another instrument to this.

    The scale message moves a tone by a semitone at most; where the reference asks for more, single notes are sent.
    """
    offsets = offsets_of(harmony, played)
    if not single and max(abs(cents) for cents in offsets) <= 100:
        return scale_tuning(offsets)
    pitches = {note: note + offsets[note % 12] / 100 for note in range(127)}
    return note_tuning({note: pitch for note, pitch in pitches.items() if 0 <= pitch < 128})
