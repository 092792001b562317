"""Tempo words and their defaults."""

from __future__ import annotations

import pytest

from firmware.plan.tempo_words import TERMS, first_tempo, plain, tempo_of


@pytest.mark.parametrize(
    ("words", "term"),
    [
        ("Allegro", "allegro"),
        ("ALLEGRO.", "allegro"),
        ("Allegro ma non troppo", "allegro"),
        ("Allegro moderato", "allegro moderato"),
        ("Molto Adagio", "molto adagio"),
        ("un poco andante", "andante"),
        ("Tempo moderato", "moderato"),
        ("Mäßig", "massig"),
        ("Modéré", "modere"),
        ("Très vite", "tres vite"),
        ("March  tempo", "march tempo"),
    ],
)
def test_words_that_begin_with_a_term(words: str, term: str) -> None:
    assert tempo_of(words) == TERMS[term]


@pytest.mark.parametrize("words", ["", "dolce", "più lento", "meno mosso", "rit.", "largely", "andantes", "♩ = ♩"])
def test_words_that_say_nothing_by_themselves(words: str) -> None:
    assert tempo_of(words) is None


def test_words_are_compared_without_accents_and_signs() -> None:
    assert plain(" Da  Capo (al Fine)! ") == "da capo al fine"


def test_the_first_tempo() -> None:
    assert [first_tempo(words) for words in ("Tempo I", "Tempo I°", "tempo primo", "Tempo 1º", "a tempo")] == [
        True,
        True,
        True,
        True,
        False,
    ]


def test_terms_rise_from_the_slowest_to_the_fastest() -> None:
    assert list(TERMS.values()) == sorted(TERMS.values())
    assert all(plain(term) == term for term in TERMS)
