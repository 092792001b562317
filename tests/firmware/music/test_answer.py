"""What an answer is made of."""

from __future__ import annotations

from firmware.music.answer import FREE, OCTAVES, answer_partials


def test_no_partial_of_an_answer_lies_near_the_partials_that_are_the_players() -> None:
    for octave in OCTAVES:
        away = [abs(part.multiple - number) for part in answer_partials(octave) for number in FREE]
        assert min(away) >= 0.5, octave


def test_every_answer_has_the_target_itself_to_beat_against() -> None:
    assert all(1 in {part.multiple for part in answer_partials(octave)} for octave in OCTAVES)


def test_the_lower_answer_is_a_harmonic_tone_an_octave_lower() -> None:
    lowest = min(part.multiple for part in answer_partials("lower"))
    assert 2 * lowest == min(part.multiple for part in answer_partials("same")) == 1
    for octave, tone in (("same", 2 * lowest), ("lower", lowest)):
        assert all((part.multiple / tone).denominator == 1 for part in answer_partials(octave))
