"""The options for note names, which several commands share."""

from __future__ import annotations

from argparse import ArgumentParser

import pytest

from firmware.errors import UnknownNameError
from firmware.music.keys import key_of
from firmware.music.words import Words
from hardware.commands.naming import add_degrees, add_names, degree_from, key_from, words_from


def test_tonic_and_degree_are_read_as_the_room_says_them() -> None:
    parser = ArgumentParser()
    parser.add_argument("--tonic")
    parser.add_argument("--mode", default="minor")
    add_names(parser)
    plain = parser.parse_args(["--tonic", "Bb"])
    assert words_from(plain) == Words()
    add_degrees(parser)
    args = parser.parse_args(["--tonic", "H", "--names", "german", "--degrees", "movable-do"])
    key, words = key_from(args), words_from(args)
    assert key == key_of("B", "minor")
    assert [degree_from(words, key, text) for text in ("me", "sol", "3", "♯7")] == [3, 7, 3, 11]
    with pytest.raises(UnknownNameError):
        degree_from(Words(), key, "me")
    with pytest.raises(SystemExit):
        parser.parse_args(["--names", "latin"])
