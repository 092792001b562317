"""The board file: our own is sound, and a wrong one is refused with the pin, its owner and the way out."""

from __future__ import annotations

from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import BadFileError, KeelnoteError
from firmware.events import PanelKey, Pedal
from hardware.board.table import RESERVED, own_board, read_board

OWN = resources.files("hardware.board").joinpath("pins.toml").read_text(encoding="utf-8")


def test_our_own_board_has_every_key_and_pedal_on_a_pin_of_its_own() -> None:
    board = own_board()
    assert [key for key, _ in board.keys.pins] == list(PanelKey)
    assert [pedal for pedal, _ in board.pedals.pins] == list(Pedal)
    pins = [pin for _, pin in board.pins]
    assert len(pins) == len(set(pins)) == 11


def test_our_own_board_works_with_either_sound_interface() -> None:
    board = read_board(OWN.replace('interface = "usb"', 'interface = "i2s"'), "pins.toml")
    assert board.sound == "i2s"
    assert not {pin for _, pin in board.pins} & frozenset().union(*RESERVED.values())


def test_settling_times_are_in_seconds() -> None:
    board = own_board()
    assert board.keys.settle == pytest.approx(0.005)
    assert board.pedals.settle == pytest.approx(0.010)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("Compare = 6", "Compare = 5", ("key Compare", "key Drone", "Free: ")),
        ("left = 23", "left = 3", ("left pedal", "I2C bus 1")),
        ("a = 17", "a = 0", ("knob a", "ID memory")),
        ("Drone = 5", "Drone = 28", ("line 9", "keys.Drone", "from 0 to 27")),
        ("Drone = 5", "Dron = 5", ("keys.Dron", "Drone")),
        ('chip = "ssd1306"', 'chip = "ssd1309"', ("screen.chip", "sh1106")),
        ("settle_ms = 10.0", "settle_ms = 500", ("pedals.settle_ms", "0.5 to 50")),
    ],
)
def test_a_wrong_board_is_refused_in_words_that_help(old: str, new: str, words: tuple[str, ...]) -> None:
    with pytest.raises(BadFileError) as caught:
        read_board(OWN.replace(old, new), "pins.toml")
    assert all(word in caught.value.text for word in words), caught.value.text


def test_an_i2s_pin_is_free_only_while_sound_goes_over_usb() -> None:
    moved = OWN.replace("right = 24", "right = 18")
    assert read_board(moved, "pins.toml").pedals.pins[1] == (Pedal.RIGHT, 18)
    with pytest.raises(BadFileError, match="I2S"):
        read_board(moved.replace('"usb"', '"i2s"'), "pins.toml")


def test_the_number_of_further_problems_is_said() -> None:
    with pytest.raises(BadFileError, match="1 more in this file"):
        read_board(OWN.replace("Drone = 5", "Drone = 99").replace("Ear = 12", "Ear = 99"), "pins.toml")


@given(st.text(max_size=200))
def test_no_text_at_all_makes_it_crash(text: str) -> None:
    with pytest.raises(KeelnoteError):
        read_board(text, "pins.toml")
