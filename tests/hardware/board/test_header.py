"""The header table against gpiozero's own description of the board."""

from __future__ import annotations

import pytest
from gpiozero.pins.mock import MockFactory

from hardware.board.header import (
    GROUNDS,
    HEADER,
    I2C,
    I2S,
    I2S_PINS,
    ID_MEMORY,
    PLACES,
    RESERVED,
    SCL_PIN,
    SDA_PIN,
    SERIAL,
    SPI,
    SPI_PINS,
    name_at,
)

# Outside check: gpiozero's data of the 40-way header, of the first board that had it to the latest that it knows.
REVISIONS = ("900032", "a02082", "c03111", "c04170")
BOARDS = {revision: MockFactory(revision=revision).board_info for revision in REVISIONS}


def pins(revision: str) -> dict[int, object]:
    """Places of the header as gpiozero has them."""
    return dict(BOARDS[revision].headers["J8"].pins)


@pytest.mark.parametrize("revision", REVISIONS)
def test_every_place_is_what_gpiozero_says(revision: str) -> None:
    ours = {"ground": "GND", "3.3 V": "3V3", "5 V": "5V"}
    known = pins(revision)
    assert set(known) == set(PLACES)
    for place in PLACES:
        name = name_at(place)
        assert known[place].name == ours.get(name, name.replace(" ", ""))


def test_the_boards_are_of_different_generations() -> None:
    assert {board.model for board in BOARDS.values()} == {"B+", "3B", "4B", "5B"}
    assert len(GROUNDS) == 8


@pytest.mark.parametrize(
    ("use", "interface"), [(I2C, "i2c"), (ID_MEMORY, "i2c"), (I2S, "pcm"), (SPI, "spi"), (SERIAL, "uart")]
)
def test_reserved_pins_are_those_with_that_function(use: str, interface: str) -> None:
    # Outside check: gpiozero's list of the functions of each pin.
    assert all(interface in pins("a02082")[HEADER[gpio]].interfaces for gpio in RESERVED[use])


def test_wires_of_a_bus_lie_on_its_pins() -> None:
    assert {SDA_PIN, SCL_PIN} == RESERVED[I2C]
    assert {pin for _, pin in I2S_PINS} < RESERVED[I2S]
    assert {pin for _, pin in SPI_PINS} < RESERVED[SPI]
