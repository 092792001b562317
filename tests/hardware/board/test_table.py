"""The board file: our own is sound, and a wrong one is refused with the pin, its owner and the way out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import BadFileError, KeelnoteError
from firmware.events import PanelKey, Pedal
from hardware.board.header import RESERVED
from hardware.board.table import VARIANTS, own_board, own_text, read_board

OWN = own_text()


def changed(*changes: tuple[str, str]) -> str:
    """Our own file with some words replaced, each of which is in it once."""
    text = OWN
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


@pytest.mark.parametrize("variant", VARIANTS)
def test_our_own_board_has_everything_on_a_pin_of_its_own(variant: str) -> None:
    board = own_board(variant)
    assert [key for key, _ in board.keys.pins] == list(PanelKey)
    assert [pedal for pedal, _ in board.pedals.pins] == list(Pedal)
    pins = [pin for _, pin in board.all_pins]
    assert len(pins) == len(set(pins)) == 13


def test_the_variants_differ_in_how_sound_comes_and_goes() -> None:
    assert [own_board(name).sound for name in VARIANTS] == ["usb", "i2s"]
    assert own_board().variant.name == "A"
    assert not {pin for _, pin in own_board("B").all_pins} & RESERVED["I2S"]
    assert read_board(changed(('variant = "A"', 'variant = "B"')), "x").sound == "i2s"


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
        ("Drone = 5", "Drone = 28", ("keys.Drone", "from 0 to 27")),
        ("Drone = 5", "Dron = 5", ("keys.Dron", "Drone")),
        ('chip = "ssd1306"', 'chip = "ssd1309"', ("screen.chip", "sh1106")),
        ("settle_ms = 10.0", "settle_ms = 500", ("pedals.settle_ms", "0.5 to 50")),
        ("address = 0x3C", "address = 0x03", ("screen.address", "from 8 to 119")),
        ('variant = "A"', 'variant = "C"', ("variant", "A, B")),
    ],
)
def test_a_wrong_file_is_refused_in_words_that_help(old: str, new: str, words: tuple[str, ...]) -> None:
    with pytest.raises(BadFileError) as caught:
        read_board(changed((old, new)), "board.toml")
    assert all(word in caught.value.text for word in words), caught.value.text


def test_the_line_of_a_wrong_entry_is_named() -> None:
    line = next(number for number, text in enumerate(OWN.splitlines(), start=1) if text.startswith("Drone"))
    with pytest.raises(BadFileError, match=f"line {line}"):
        read_board(changed(("Drone = 5", "Drone = 28")), "board.toml")


def test_an_i2s_pin_is_free_only_while_sound_goes_over_usb() -> None:
    moved = changed(("right = 24", "right = 18"))
    assert read_board(moved, "board.toml", "A").pedals.pins[1] == (Pedal.RIGHT, 18)
    with pytest.raises(BadFileError, match="I2S"):
        read_board(moved, "board.toml", "B")


def test_the_number_of_further_problems_is_said() -> None:
    with pytest.raises(BadFileError, match="1 more in this file"):
        read_board(changed(("Drone = 5", "Drone = 99"), ("Ear = 12", "Ear = 99")), "board.toml")
    with pytest.raises(BadFileError, match="1 more in this file"):
        read_board(changed(("Drone = 5", "Drone = 6"), ("Ear = 12", "Ear = 13")), "board.toml")


@given(st.text(max_size=200))
def test_no_text_at_all_makes_it_crash(text: str) -> None:
    with pytest.raises(KeelnoteError):
        read_board(text, "board.toml")
