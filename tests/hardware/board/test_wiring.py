"""The wiring table against the header as gpiozero knows it, and against the page that builders read."""

from __future__ import annotations

from pathlib import Path

import pytest
from gpiozero.pins.mock import MockFactory

from hardware.board.table import RESERVED, own_board
from hardware.board.wiring import GROUNDS, HEADER, SCREEN, wiring

PAGE = Path(__file__).parents[3] / "hardware" / "board" / "WIRING.md"
INFO = MockFactory().board_info
PLACES = {pin.number: pin for pin in INFO.headers["J8"].pins.values()}


def test_every_gpio_is_where_gpiozero_says() -> None:
    # Outside check: gpiozero's description of the 40-way header.
    for gpio, place in enumerate(HEADER):
        assert PLACES[place].name == f"GPIO{gpio}"
    assert tuple(place for place, pin in PLACES.items() if pin.name == "GND") == GROUNDS


def test_the_screen_is_on_the_pins_of_i2c_bus_1() -> None:
    assert [PLACES[place].name for _, _, place in SCREEN] == ["3V3", "GPIO2", "GPIO3"]


@pytest.mark.parametrize(
    ("use", "interface"), [("I2C bus 1", "i2c"), ("the add-on board's ID memory", "i2c"), ("I2S", "pcm")]
)
def test_reserved_pins_are_those_with_that_function(use: str, interface: str) -> None:
    # Outside check: gpiozero's list of each pin's functions.
    assert all(interface in PLACES[HEADER[gpio]].interfaces for gpio in RESERVED[use])


def test_pedals_and_keys_are_on_pins_that_can_be_pulled_up() -> None:
    assert all(PLACES[HEADER[pin]].pull in {"", "up"} for _, pin in own_board().pins)


def test_the_page_holds_the_table_of_our_board() -> None:
    text = PAGE.read_text(encoding="utf-8")
    drawn = text.split("-->\n", 1)[1].split("\n<!-- end -->")[0]
    assert drawn == wiring(own_board())
    assert all(str(place) in text.split("<!--", maxsplit=1)[0] for place in GROUNDS)
