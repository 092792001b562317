"""The 40-way header of a Raspberry Pi: what is at each place, and which pins belong to a bus."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

GPIOS: Final = range(28)
"""The pins of the 40-way header, as BCM numbers."""

HEADER: Final = (
    (27, 28, 3, 5, 7, 29, 31, 26, 24, 21, 19, 23, 32, 33, 8, 10, 36, 11, 12, 35, 38, 40, 15, 16, 18, 22, 37, 13)
)  # fmt: skip
"""Place on the 40-way header of GPIO 0 to 27."""

GROUNDS: Final = (6, 9, 14, 20, 25, 30, 34, 39)
"""Places of the header that are ground."""

VOLTS_3: Final = (1, 17)
"""Places that give 3.3 V."""

VOLTS_5: Final = (2, 4)
"""Places that give 5 V."""

PLACES: Final = range(1, 41)

ID_MEMORY: Final = "the add-on board's ID memory"
I2C: Final = "I2C bus 1"
I2S: Final = "I2S"
SPI: Final = "SPI bus 0"
SERIAL: Final = "the serial console"

RESERVED: Final[Mapping[str, frozenset[int]]] = {
    ID_MEMORY: frozenset({0, 1}),
    I2C: frozenset({2, 3}),
    I2S: frozenset({18, 19, 20, 21}),
    SPI: frozenset({7, 8, 9, 10, 11}),
    SERIAL: frozenset({14, 15}),
}
"""Pins that a bus needs while it is in use: BCM2835 ARM Peripherals, table 6-31 (from memory, tested against gpiozero).

SPI counts both of its chip selects: the kernel claims them together.
"""

SDA_PIN: Final = 2
SCL_PIN: Final = 3

I2S_PINS: Final = (("BCK", 18), ("LRCK", 19), ("DIN", 21))
"""Wires of a DAC, as such modules are labelled: bit clock, word clock, data.

GPIO 20 would bring data in, and the kernel claims it too.
"""

SPI_PINS: Final = (("D0 (clock)", 11), ("D1 (data)", 10), ("CS", 8))
"""Wires of a screen on SPI, as such modules are labelled."""


def name_at(place: int) -> str:
    """What is at a place of the header: "3.3 V", "5 V", "ground" or "GPIO n"."""
    if place in GROUNDS:
        return "ground"
    if place in VOLTS_3:
        return "3.3 V"
    return "5 V" if place in VOLTS_5 else f"GPIO {HEADER.index(place)}"
