"""The enclosure's data: everything fits, nothing meets, and what does not is named."""

from __future__ import annotations

from itertools import pairwise

import pytest

from firmware.errors import BadFileError
from firmware.events import PanelKey
from hardware.board.mechanics import Mechanics, clashes, own_mechanics, own_text, read_mechanics
from hardware.board.table import own_board

BOARD = own_board()
OWN = own_mechanics(BOARD)


def changed(table: str, key: str, value: str) -> Mechanics:
    """Our own enclosure with one entry changed."""
    head, _, rest = own_text().partition(f"[{table}]")
    lines = rest.splitlines()
    number = next(number for number, line in enumerate(lines) if line.startswith(f"{key} ="))
    lines[number] = f"{key} = {value}"
    return read_mechanics(f"{head}[{table}]" + "\n".join(lines), "mechanics.toml", BOARD)


def test_everything_fits() -> None:
    assert clashes(OWN) == ()


def test_keys_stand_in_panel_order_at_their_spacing() -> None:
    keys = [one for one in OWN.openings if one.name.startswith("key ")]
    assert [one.name for one in keys] == [f"key {key}" for key in PanelKey]
    assert {round(b.x - a.x, 3) for a, b in pairwise(keys)} == {OWN.tables["keys"]["pitch"]}
    # ISO 9241-410 (from memory) asks for 18 to 20 mm between the middles of keys that fingers strike.
    assert OWN.tables["keys"]["pitch"] >= 19


def test_the_window_shows_every_dot_of_the_screen() -> None:
    (screen,) = [one for one in OWN.openings if one.name == "screen"]
    # The size of the dots is that of tests/outside/test_legibility.py: 55 mm for 128 columns.
    assert screen.width > 55.0
    assert screen.height > 27.5
    assert screen.cover_width > screen.width


def test_each_thing_of_the_board_that_hands_reach_has_its_opening() -> None:
    names = {one.name for one in OWN.openings}
    assert {"knob", "screen", "led", "power", "left pedal", "right pedal", "stick", "supply", "sound"} <= names


def test_the_right_pedal_is_at_the_directors_right() -> None:
    places = {one.name: one.x for one in OWN.openings}
    assert places["right pedal"] < places["left pedal"]  # the back wall is seen from behind


@pytest.mark.parametrize(
    ("table", "key", "value", "words"),
    [
        ("keys", "pitch", "18.0", "key Drone and key Compare are too near"),
        ("keys", "first_x", "5.0", "key Drone is over the edge of the lid"),
        ("knob", "y", "90.0", "knob and led are too near"),
        ("screen", "x", "30.0", "screen is over the edge"),
        ("screen", "depth_below", "30.0", "screen reaches down to the Pi"),
        ("keys", "depth_below", "60.0", "key Drone reaches down to the floor"),
        ("pedals", "pitch", "14.0", "right pedal and left pedal are too near"),
        ("sound", "depth_behind", "40.0", "sound reaches into the Pi"),
        ("stick", "y", "4.0", "stick is over the edge of the right"),
        ("pi", "x", "120.0", "Pi is over the edge"),
    ],
)
def test_what_does_not_fit_is_named(table: str, key: str, value: str, words: str) -> None:
    found = clashes(changed(table, key, value))
    assert any(words in line for line in found), found


@pytest.mark.parametrize(
    ("table", "key", "value", "words"),
    [("pedals", "first", '"middle"', "pedals.first"), ("knob", "hole", "-1.0", "knob.hole")],
)
def test_a_wrong_entry_is_refused(table: str, key: str, value: str, words: str) -> None:
    with pytest.raises(BadFileError, match=words):
        changed(table, key, value)


def test_an_unknown_entry_is_refused() -> None:
    with pytest.raises(BadFileError, match="unknown key"):
        read_mechanics(own_text() + "\nnubs = 3.0\n", "mechanics.toml", BOARD)
