"""How commands read and print note names: the options `--names` and `--degrees`."""

from __future__ import annotations

import argparse
from typing import Final

from firmware.music.degree_names import DEGREE_NAMES, FIGURES, degree_names_named
from firmware.music.keys import Key, key_of, semitones_of
from firmware.music.languages import LANGUAGES, language_named
from firmware.music.languages.english import ENGLISH
from firmware.music.words import Words

LANGUAGE_NAMES: Final = tuple(language.name for language in LANGUAGES)
NAMES_OF_DEGREES: Final = tuple(names.name for names in DEGREE_NAMES)


def add_names(parser: argparse.ArgumentParser) -> None:
    """Declare the language of note names."""
    parser.add_argument(
        "--names",
        choices=LANGUAGE_NAMES,
        default=ENGLISH.name,
        help="how notes are named, read and printed; JSON stays English (default english)",
    )


def add_degrees(parser: argparse.ArgumentParser) -> None:
    """Declare how degrees are called."""
    parser.add_argument(
        "--degrees",
        choices=NAMES_OF_DEGREES,
        default=FIGURES.name,
        help="how degrees are called; movable do is do-based in minor too (default figures)",
    )


def words_from(args: argparse.Namespace) -> Words:
    """The words that the arguments ask for."""
    return Words(language_named(args.names), degree_names_named(getattr(args, "degrees", FIGURES.name)))


def key_from(args: argparse.Namespace) -> Key:
    """The key of `--tonic` and `--mode`; raises UnknownNameError with the names of the language."""
    return key_of(words_from(args).notes.read(args.tonic, thing="tonic"), args.mode)


def degree_from(words: Words, key: Key, text: str) -> int:
    """Semitones above the tonic of a degree, as a figure or as a syllable where degrees are called so."""
    found = words.degrees.read(text)
    return semitones_of(key, text) if found is None else found
