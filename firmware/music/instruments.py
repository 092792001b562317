"""The instruments and voices whose parts the box can read, with their transpositions."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Instrument:
    """A part and its transposition: written = sounding moved up by steps (letters) and semitones, octaves included.

    The badge is what the screen shows while the part is read; empty where written and sounding pitch are the same.
    """

    name: str
    title: str
    badge: str
    steps: int
    semitones: int


# Written pitch above sounding pitch as (badge, steps, semitones), under the trade's name of the interval.
_CONCERT = ("", 0, 0)
_OCTAVE_HIGHER = ("8va", -7, -12)  # sounds higher than written
_TWO_OCTAVES_HIGHER = ("15ma", -14, -24)
_OCTAVE_LOWER = ("8vb", 7, 12)
_IN_B_FLAT = ("in B♭", 1, 2)
_IN_B_FLAT_NINTH = ("in B♭", 8, 14)
_IN_B_FLAT_SIXTEENTH = ("in B♭", 15, 26)
_IN_HIGH_B_FLAT = ("in B♭", -6, -10)
_IN_A = ("in A", 2, 3)
_IN_HIGH_A = ("in A", -5, -9)
_IN_E_FLAT = ("in E♭", 5, 9)
_IN_E_FLAT_THIRTEENTH = ("in E♭", 12, 21)
_IN_HIGH_E_FLAT = ("in E♭", -2, -3)
_IN_F = ("in F", 4, 7)
_IN_G = ("in G", 3, 5)
_IN_D = ("in D", 6, 10)
_IN_HIGH_D = ("in D", -1, -2)


def _part(name: str, title: str, transposition: tuple[str, int, int]) -> Instrument:
    return Instrument(name, title, *transposition)


# Transpositions are common practice; those that music21 also knows are compared with it in the tests. Brass-band parts
# in treble clef and bass-clef parts of the same instrument differ, so both are listed.
INSTRUMENTS: tuple[Instrument, ...] = (
    _part("concert", "concert pitch", _CONCERT),
    _part("piccolo", "piccolo", _OCTAVE_HIGHER),
    _part("flute", "flute", _CONCERT),
    _part("alto-flute", "alto flute", _IN_G),
    _part("bass-flute", "bass flute", _OCTAVE_LOWER),
    _part("soprano-recorder", "soprano recorder", _OCTAVE_HIGHER),
    _part("oboe", "oboe", _CONCERT),
    _part("oboe-d-amore", "oboe d'amore", _IN_A),
    _part("english-horn", "English horn", _IN_F),
    _part("bassoon", "bassoon", _CONCERT),
    _part("contrabassoon", "contrabassoon", _OCTAVE_LOWER),
    _part("clarinet", "clarinet", _IN_B_FLAT),
    _part("clarinet-in-a", "clarinet in A", _IN_A),
    _part("clarinet-in-e-flat", "clarinet in E♭", _IN_HIGH_E_FLAT),
    _part("alto-clarinet", "alto clarinet", _IN_E_FLAT),
    _part("basset-horn", "basset horn", _IN_F),
    _part("bass-clarinet", "bass clarinet", _IN_B_FLAT_NINTH),
    _part("contra-alto-clarinet", "contra-alto clarinet", _IN_E_FLAT_THIRTEENTH),
    _part("contrabass-clarinet", "contrabass clarinet", _IN_B_FLAT_SIXTEENTH),
    _part("sopranino-saxophone", "sopranino saxophone", _IN_HIGH_E_FLAT),
    _part("soprano-saxophone", "soprano saxophone", _IN_B_FLAT),
    _part("alto-saxophone", "alto saxophone", _IN_E_FLAT),
    _part("tenor-saxophone", "tenor saxophone", _IN_B_FLAT_NINTH),
    _part("baritone-saxophone", "baritone saxophone", _IN_E_FLAT_THIRTEENTH),
    _part("bass-saxophone", "bass saxophone", _IN_B_FLAT_SIXTEENTH),
    _part("horn", "horn in F", _IN_F),
    _part("horn-in-e-flat", "horn in E♭", _IN_E_FLAT),
    _part("horn-in-d", "horn in D", _IN_D),
    _part("trumpet", "trumpet", _IN_B_FLAT),
    _part("trumpet-in-c", "trumpet in C", _CONCERT),
    _part("trumpet-in-d", "trumpet in D", _IN_HIGH_D),
    _part("trumpet-in-e-flat", "trumpet in E♭", _IN_HIGH_E_FLAT),
    _part("piccolo-trumpet", "piccolo trumpet", _IN_HIGH_B_FLAT),
    _part("piccolo-trumpet-in-a", "piccolo trumpet in A", _IN_HIGH_A),
    _part("cornet", "cornet", _IN_B_FLAT),
    _part("soprano-cornet", "soprano cornet", _IN_HIGH_E_FLAT),
    _part("flugelhorn", "flugelhorn", _IN_B_FLAT),
    _part("bass-trumpet", "bass trumpet", _IN_B_FLAT_NINTH),
    _part("tenor-horn", "tenor horn", _IN_E_FLAT),
    _part("baritone-horn", "baritone, treble clef", _IN_B_FLAT_NINTH),
    _part("euphonium", "euphonium, bass clef", _CONCERT),
    _part("euphonium-treble", "euphonium, treble clef", _IN_B_FLAT_NINTH),
    _part("trombone", "trombone, bass clef", _CONCERT),
    _part("trombone-treble", "trombone, treble clef", _IN_B_FLAT_NINTH),
    _part("tuba", "tuba, bass clef", _CONCERT),
    _part("e-flat-bass", "E♭ bass, treble clef", _IN_E_FLAT_THIRTEENTH),
    _part("b-flat-bass", "B♭ bass, treble clef", _IN_B_FLAT_SIXTEENTH),
    _part("timpani", "timpani", _CONCERT),
    _part("glockenspiel", "glockenspiel", _TWO_OCTAVES_HIGHER),
    _part("xylophone", "xylophone", _OCTAVE_HIGHER),
    _part("celesta", "celesta", _OCTAVE_HIGHER),
    _part("violin", "violin", _CONCERT),
    _part("viola", "viola", _CONCERT),
    _part("cello", "cello", _CONCERT),
    _part("double-bass", "double bass", _OCTAVE_LOWER),
    _part("guitar", "guitar", _OCTAVE_LOWER),
    _part("bass-guitar", "bass guitar", _OCTAVE_LOWER),
    _part("banjo", "banjo", _OCTAVE_LOWER),
    _part("voice", "voice", _CONCERT),
    _part("tenor-voice", "tenor, treble clef", _OCTAVE_LOWER),
)
