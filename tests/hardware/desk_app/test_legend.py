"""The legend fits an 80-column terminal and leaves out no key."""

from __future__ import annotations

from firmware.screens.gestures import Kind
from firmware.screens.meanings import GESTURES
from hardware.desk_app.keymap import AMOUNT_SHOWN, HELP_SHOWN, QUIT_SHOWN, STROKES
from hardware.desk_app.legend import legend, words


def test_the_legend_fits_under_the_picture_in_80_by_24():
    assert len(legend()) + 16 + 2 <= 24
    assert all(len(line) <= 80 for line in legend())


def test_the_legend_shows_every_stroke():
    shown = " ".join(legend()).replace("/", " ").split()
    for stroke in STROKES:
        assert set(stroke.shown.split()) <= set(shown), stroke
    assert {AMOUNT_SHOWN, HELP_SHOWN, QUIT_SHOWN} <= set(shown)


def test_the_words_fit_and_name_every_meaning_that_has_a_stroke():
    assert all(len(line) <= 80 for line in words())
    text = "\n".join(words())
    for meaning in GESTURES:
        assert meaning.kind in {Kind.TEMPO_TAP, Kind.NOTE} or f"{meaning.control}: {meaning.words}" in text
