"""Voice leading by the shortest path."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.keys import key_of
from firmware.music.moving.qualities import QUALITIES
from firmware.music.moving.symbols import ChordSymbol, chord_symbol
from firmware.music.moving.voicing import led, motion, voicings

KEY = key_of("C", "major")
CHORDS = ("I", "ii", "iii", "IV", "V", "vi", "vii°", "V7", "ii65", "I6")


def symbols_of(text):
    return [chord_symbol(word, KEY) for word in text.split()]


@pytest.mark.parametrize("quality", QUALITIES, ids=lambda quality: quality.name)
def test_every_chord_on_every_root_over_every_bass_has_a_place(quality):
    for root, bass in itertools.product(range(12), quality.semitones):
        symbol = ChordSymbol("", root, quality, bass)
        for voicing in voicings(symbol):
            assert voicing[0] == (root + bass) % 12
            assert list(voicing) == sorted(set(voicing))
            assert {tone % 12 for tone in voicing} == {(root + n) % 12 for n in quality.semitones}
        assert voicings(symbol)


def test_common_tones_stay_and_the_others_go_by_step():
    ways = led(symbols_of("I vi"))
    assert len(set(ways[0][1:]) & set(ways[1][1:])) >= 2


@settings(max_examples=30)
@given(
    st.lists(st.sampled_from(["I", "ii", "iii", "IV", "V", "vi", "vii°", "V7", "ii65", "I6"]), min_size=1, max_size=3),
    st.booleans(),
)
def test_no_way_through_is_shorter(words, around):
    # Oracle: all ways through, one by one.
    symbols = symbols_of(" ".join(words))
    around = around and len(symbols) > 1

    def total(ways) -> int:
        steps = itertools.pairwise([*ways, ways[0]] if around else ways)
        wide = sum(max(0, b - a - 12) for way in ways for a, b in itertools.pairwise(way[1:]))
        extra = sum(max(0, b - a - 12) for a, b in itertools.pairwise(ways[0][1:])) if around else 0
        return ways[0][-1] + wide + extra + sum(motion(a, b) for a, b in steps)

    found = led(symbols, around=around)
    assert total(found) == min(total(ways) for ways in itertools.product(*(voicings(s) for s in symbols)))


def test_nothing_is_led_nowhere():
    assert led([]) == ()


def test_too_few_voices_or_semitones_are_refused():
    with pytest.raises(OutOfRangeError, match="voices"):
        voicings(symbols_of("V7")[0], voices=3)
    with pytest.raises(OutOfRangeError, match="span"):
        voicings(symbols_of("V7")[0], span=12)
