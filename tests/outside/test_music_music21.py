"""Pitch against music21: transpositions, spelling of scales, key signatures, chords and its archive of scales.

music21 (BSD licence) is a library of computer musicology; it is an oracle here and never runs in the box.
"""

from __future__ import annotations

import warnings
from functools import cache
from typing import Any

import pytest

from firmware.music.chords import chord_on
from firmware.music.keys import Key, key_of, knob_tonics
from firmware.music.modes import MODES, Mode, mode_named
from firmware.music.notes import LETTERS, Note, PitchName
from firmware.music.transposition import INSTRUMENTS, instrument_named, written, written_key
from firmware.music.tunings import tuning_named

with warnings.catch_warnings():
    # Python may warn about a library's source when it first compiles it, more so newer Pythons; that is not ours.
    warnings.simplefilter("ignore", SyntaxWarning)
    warnings.simplefilter("ignore", DeprecationWarning)
    from music21 import chord, instrument, interval, key, note, pitch, scale, stream
    from music21.languageExcerpts.instrumentLookup import transposition as families

# Our name and the class in music21.instrument that holds the transposition.
BY_CLASS = {
    "piccolo": "Piccolo",
    "english-horn": "EnglishHorn",
    "clarinet": "Clarinet",
    "bass-clarinet": "BassClarinet",
    "soprano-saxophone": "SopranoSaxophone",
    "alto-saxophone": "AltoSaxophone",
    "tenor-saxophone": "TenorSaxophone",
    "baritone-saxophone": "BaritoneSaxophone",
    "horn": "Horn",
    "trumpet": "Trumpet",
    "double-bass": "Contrabass",
    "banjo": "Banjo",
}
# Our name, and family and member in music21's table of instruments that come in several keys.
BY_FAMILY = {
    "clarinet-in-a": ("clarinet", "a"),
    "clarinet-in-e-flat": ("clarinet", "e-"),
    "alto-clarinet": ("clarinet", "alto"),
    "contra-alto-clarinet": ("clarinet", "e- contrabass"),
    "contrabass-clarinet": ("clarinet", "b- contrabass"),
    "horn-in-e-flat": ("horn", "e-"),
    "horn-in-d": ("horn", "d"),
    "trumpet-in-c": ("trumpet", "c"),
    "trumpet-in-d": ("trumpet", "d"),
    "trumpet-in-e-flat": ("trumpet", "e-"),
    "cornet": ("trumpet", "cornet"),
    "flugelhorn": ("trumpet", "flugelhorn"),
    "bass-trumpet": ("trumpet", "b- bass"),
}
CONCERT = {
    "flute": "Flute",
    "oboe": "Oboe",
    "bassoon": "Bassoon",
    "trombone": "Trombone",
    "tuba": "Tuba",
    "timpani": "Timpani",
    "violin": "Violin",
    "viola": "Viola",
    "cello": "Violoncello",
    "voice": "Soprano",
}
SCALES: dict[str, type[Any]] = {
    "major": scale.MajorScale,
    "minor": scale.MinorScale,
    "dorian": scale.DorianScale,
    "phrygian": scale.PhrygianScale,
    "lydian": scale.LydianScale,
    "mixolydian": scale.MixolydianScale,
    "locrian": scale.LocrianScale,
    "harmonic-minor": scale.HarmonicMinorScale,
    "melodic-minor": scale.MelodicMinorScale,
}
NAMES = tuple(PitchName(letter, alter) for letter in LETTERS for alter in (-1, 0, 1))
TUNED = {
    "pythagorean": "pyth_12.scl",
    "meantone": "meanquar.scl",
    "kirnberger-3": "kirnberger.scl",
    "werckmeister-3": "werck3.scl",
    "vallotti": "vallotti.scl",
    "young": "young.scl",
}


def theirs(name: PitchName) -> str:
    return name.plain.replace("b", "-")


@cache
def sounding(name: str) -> Any:  # noqa: ANN401 - music21 is untyped here
    if name in BY_CLASS:
        return getattr(instrument, BY_CLASS[name])().transposition
    family, member = BY_FAMILY[name]
    return interval.Interval(families[family][member])


@pytest.mark.parametrize("name", [*BY_CLASS, *BY_FAMILY])
def test_transpositions_are_those_of_music21(name: str) -> None:
    ours, their = instrument_named(name), sounding(name)
    assert -ours.semitones == int(their.chromatic.semitones)
    assert -ours.steps == their.generic.staffDistance
    for pitch_name in NAMES:
        heard = Note(pitch_name, 4)
        reads = written(heard, ours)
        back = their.transposePitch(pitch.Pitch(theirs(reads.name) + str(reads.octave)))
        assert back.nameWithOctave == theirs(heard.name) + str(heard.octave)


def test_every_transposing_instrument_of_music21_is_in_our_registry() -> None:
    classes = [c for c in vars(instrument).values() if isinstance(c, type) and issubclass(c, instrument.Instrument)]
    known = {c.__name__ for c in classes if c().transposition is not None}
    assert known == set(BY_CLASS.values())
    assert len(BY_CLASS) + len(BY_FAMILY) >= 18


@pytest.mark.parametrize("name", CONCERT)
def test_instruments_at_concert_pitch_have_no_transposition_there_either(name: str) -> None:
    assert getattr(instrument, CONCERT[name])().transposition is None
    assert instrument_named(name).semitones == instrument_named(name).steps == 0


def test_a_part_of_music21_sounds_what_we_say_it_reads() -> None:
    for name in ("trumpet", "horn", "baritone-saxophone", "piccolo", "double-bass"):
        part = stream.Part([getattr(instrument, BY_CLASS[name])()])
        heard = [Note(key_of("Eb").spell(n), 3) for n in range(12)]
        reads = [written(each, instrument_named(name)) for each in heard]
        for each in reads:
            part.append(note.Note(theirs(each.name) + str(each.octave)))
        part.atSoundingPitch = False
        found = [n.pitch.nameWithOctave for n in part.toSoundingPitch().recurse().notes]
        assert found == [theirs(each.name) + str(each.octave) for each in heard]


@pytest.mark.parametrize("mode", SCALES)
@pytest.mark.parametrize("tonic", NAMES, ids=str)
def test_scales_are_spelled_as_in_music21(tonic: PitchName, mode: str) -> None:
    ours = key_of(tonic, mode)
    their = SCALES[mode](theirs(tonic)).getPitches(
        theirs(tonic) + "4", theirs(tonic) + "5", direction=scale.Direction.ASCENDING
    )
    assert [theirs(name) for name in ours.scale()] == [p.name for p in their][:7]


@pytest.mark.parametrize("mode", [m for m in MODES if m.name in SCALES and "-" not in m.name], ids=lambda m: m.name)
def test_key_signatures_are_those_of_music21(mode: Mode) -> None:
    for tonic in knob_tonics(mode):
        ours = Key(tonic, mode)
        assert ours.signature == key.Key(theirs(tonic), mode.name).sharps


def test_written_key_signatures_are_those_of_music21() -> None:
    for ours in INSTRUMENTS:
        concert_key = key_of("Eb", "major")
        there = written_key(concert_key, ours)
        moved = key.Key("E-", "major").transpose(interval.Interval(ours.semitones % 12))
        assert there.tonic.semitones == moved.tonic.pitchClass
        assert there.signature == key.Key(theirs(there.tonic), "major").sharps


@pytest.mark.parametrize("name", ["C4", "B#3", "C-4", "B-2", "F##5", "E--4", "A0", "G9", "C-1"])
def test_numbers_and_frequencies_are_those_of_music21(name: str) -> None:
    their = pitch.Pitch(name) if name != "C-1" else pitch.Pitch(midi=0)
    ours = Note(PitchName(their.step, int(their.alter)), their.octave if their.octave is not None else 4)
    assert ours.midi == their.midi
    assert ours.equal_hz() == pytest.approx(their.frequency, rel=1e-12)


@pytest.mark.parametrize("mode", SCALES)
def test_chords_are_the_triads_and_sevenths_music21_names(mode: str) -> None:
    quality = {(4, 7): "major", (3, 7): "minor", (3, 6): "diminished", (4, 8): "augmented"}
    ours = key_of("Eb", mode)
    for degree in mode_named(mode).scale:
        members = chord_on(ours.mode, degree)
        names = [theirs(ours.spell(degree + member.semitones)) for member in members]
        triad = chord.Chord(names[:3])
        assert triad.isTriad()
        assert triad.root().name == names[0]
        assert triad.quality == quality[members[1].semitones, members[2].semitones]
        assert chord.Chord(names).isSeventh()


@pytest.mark.parametrize("name", TUNED)
def test_tunings_are_those_of_the_archive_of_scales_in_music21(name: str) -> None:
    # The archive is an open collection of published scales that music21 ships. Its 12-note Pythagorean and meantone
    # scales run from E♭ to G♯, so the raised degrees are compared where our spelling is raised too.
    their = [0.0, *scale.scala.parse(TUNED[name]).getCentsAboveTonic()]
    ours = tuning_named(name)
    key_of_c = key_of("C", "chromatic")
    for n in range(12):
        if ours.fixed or key_of_c.spell(n).alter >= 0 or n in (3, 10):
            assert ours.interval(key_of_c, n).cents == pytest.approx(their[n], abs=0.00051)
