"""What stays when the chord moves."""

from __future__ import annotations

import pytest

from firmware.errors import UnknownNameError
from firmware.music.harmony import Harmony
from firmware.music.intervals import Interval
from firmware.music.keys import key_of
from firmware.music.moving.choices import CHOICES, choice_named, in_key, tune
from firmware.music.moving.symbols import chord_symbol

KEY = key_of("C", "major")
HARMONY = Harmony(KEY)
SYNTONIC_COMMA = Interval.of("81/80")
PUMP = [chord_symbol(text, KEY) for text in ["I", "vi", "ii", "V"]]


def chords(symbols, name, turns):
    before, found = None, []
    for symbol in symbols * turns:
        before = tune(symbol, HARMONY, choice_named(name), before)
        found.append(before)
    return found


def mistuning(chord):
    """Cents by which any two tones of a chord are off from its just interval."""
    home = in_key(chord.symbol, HARMONY)
    off = [chord.tones[semitones].cents - home[semitones].cents for semitones in home]
    return max(off) - min(off)


def test_with_common_tones_held_the_pump_falls_a_syntonic_comma_a_turn():
    # Textbook: I-vi-ii-V-I falls by 81/80 = 21.506 cents (Helmholtz tr. Ellis, app. XX: the comma of Didymus).
    found = chords(PUMP, "common", 11)
    tonics = found[:: len(PUMP)]
    for turn, chord in enumerate(tonics):
        assert chord.tones[0] == SYNTONIC_COMMA**-turn
        assert chord.drift == pytest.approx(-21.50629 * turn, abs=1e-3)
    assert max(mistuning(chord) for chord in found) < 1e-9


def test_with_least_motion_ten_turns_of_the_pump_drift_less_than_2_cents():
    found = chords(PUMP, "least", 11)
    assert abs(found[40].drift) < 2
    assert abs(found[40].drift - found[36].drift) < 0.01
    # At most 3 cents from just is asked for; the chords stay a good deal purer.
    assert max(mistuning(chord) for chord in found[36:]) < 1


def test_with_the_tonic_held_every_root_is_where_the_key_has_it():
    for chord in chords(PUMP, "tonic", 3):
        assert chord.tones == in_key(chord.symbol, HARMONY)
        assert chord.drift == 0


def test_a_common_tone_is_exactly_the_same_tone():
    before, after = chords(PUMP[:2], "common", 1)
    assert all(before.tones[semitones] == after.tones[semitones] for semitones in (0, 4))


def test_a_chord_without_a_common_tone_carries_the_drift_on():
    found = chords([*PUMP, chord_symbol("IV", KEY)], "common", 1)
    assert found[-1].drift == pytest.approx(found[-2].drift, abs=1e-5)
    assert found[-1].drift == pytest.approx(-21.506, abs=1e-3)


@pytest.mark.parametrize("choice", CHOICES, ids=lambda choice: choice.name)
def test_common_tones_that_disagree_are_met_half_way(choice):
    # G7 to C: only G is shared. D minor to G7: D and F, of which F belongs to two different places.
    symbols = [chord_symbol(text, KEY) for text in ("Dm", "G7", "C")]
    for chord in chords(symbols, choice.name, 4):
        assert mistuning(chord) < (1e-5 if choice.name != "least" else 1.5)
        assert all(abs(chord.tones[n].cents - 100 * n) < 600 for n in chord.tones)


def test_an_unknown_choice_names_the_three():
    with pytest.raises(UnknownNameError, match="tonic, common, least"):
        choice_named("root")
