"""What holds for every tuning of the registry."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

import firmware.music.tunings
from firmware.errors import UnknownNameError
from firmware.music.intervals import OCTAVE, SEMITONE, UNISON, Interval
from firmware.music.keys import Key, key_of, knob_tonics
from firmware.music.modes import MODES
from firmware.music.notes import Note, parse_note
from firmware.music.tuning import Tuning, own_tuning
from firmware.music.tunings import TUNINGS, tuning_named

every_tuning = pytest.mark.parametrize("tuning", TUNINGS, ids=lambda tuning: tuning.name)
KEYS = tuple(Key(tonic, mode) for mode in MODES for tonic in knob_tonics(mode))


def test_the_registry_lists_every_file() -> None:
    folder = Path(firmware.music.tunings.__file__).parent
    files = {path.stem for path in folder.glob("*.py")} - {"__init__"}
    assert {tuning.name.replace("-", "_") for tuning in TUNINGS} == files
    assert [tuning.name for tuning in TUNINGS] == (
        ["just", "equal", "pythagorean", "meantone", "kirnberger-3", "werckmeister-3", "vallotti", "young"]
    )


@every_tuning
def test_twelve_tones_rise_from_the_tonic_in_every_key(tuning: Tuning) -> None:
    for key in KEYS:
        sizes = [tuning.interval(key, n).cents for n in range(13)]
        assert sizes[0] == 0
        assert sizes == sorted(sizes)
        assert sizes[12] == pytest.approx(1200, abs=1e-9)
        assert all(abs(cents - 100 * n) < 32 for n, cents in enumerate(sizes))


@every_tuning
def test_octaves_are_pure(tuning: Tuning) -> None:
    key = key_of("Eb", "minor")
    for n in range(-12, 24):
        assert tuning.interval(key, n + 12) == tuning.interval(key, n) * OCTAVE


@every_tuning
def test_a4_is_the_reference(tuning: Tuning) -> None:
    assert tuning.from_a4(parse_note("A4")) == UNISON
    assert tuning.from_a4(parse_note("A2")) == OCTAVE**-2


@every_tuning
def test_where_the_tonic_lies(tuning: Tuning) -> None:
    for tonic in ("Cb4", "B3", "Bb2", "F#5"):
        note = parse_note(tonic)
        distance = tuning.from_a4(note)
        if tuning.fixed:
            assert distance == tuning.interval(key_of("A", "chromatic"), note.midi - 69)
        else:
            assert distance == SEMITONE ** (note.midi - 69)


@every_tuning
def test_fixed_tunings_do_not_move_with_the_tonic(tuning: Tuning) -> None:
    def pitch(tonic: str, midi: int) -> Interval:
        key, root = key_of(tonic, "major"), Note(key_of(tonic).tonic, 4)
        return tuning.from_a4(root) * tuning.interval(key, midi - root.midi)

    moved = [midi for midi in range(60, 72) if pitch("Db", midi) != pitch("D", midi)]
    assert (moved == []) is (tuning.fixed or tuning.name == "equal")


def test_fifths_of_the_line_follow_the_spelling() -> None:
    pythagorean, meantone = tuning_named("pythagorean"), tuning_named("meantone")
    assert pythagorean.interval(key_of("C", "major"), 6).fraction == Fraction(729, 512)
    assert pythagorean.interval(key_of("C", "locrian"), 6).fraction == Fraction(1024, 729)
    assert meantone.interval(key_of("C", "major"), 4).fraction == Fraction(5, 4)
    assert meantone.interval(key_of("C", "major"), 8).fraction == Fraction(8, 5)


def test_just_follows_the_mode() -> None:
    just = tuning_named("just")
    for mode in MODES:
        key = key_of("F", mode)
        assert [just.interval(key, n) for n in range(12)] == [tone.interval for tone in mode.tones]


@every_tuning
def test_every_tuning_says_where_it_comes_from(tuning: Tuning) -> None:
    assert tuning.source
    assert tuning.title
    assert tuning_named(tuning.name) is tuning


def test_unknown_tunings_are_named_with_all_there_are() -> None:
    with pytest.raises(UnknownNameError, match=r"tuning 'justt'.*just, equal.*young.*Did you mean 'just'"):
        tuning_named("justt")


def test_own_tunings_come_first() -> None:
    mine = own_tuning("equal", {})
    assert tuning_named("equal", [mine]) is mine
