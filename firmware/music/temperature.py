"""What the temperature of the room does to wind instruments.

The pitch of an air column goes with the speed of sound, and that with the square root of the absolute temperature:
c = sqrt(gamma R T / M) for an ideal gas (L. D. Landau and E. M. Lifshitz, *Fluid Mechanics*, § 64, from memory; the
gas constant is that of CODATA 2018, the molar mass of dry air 28.965 g/mol). By this theory a wind instrument rises by
about 3 cents for each degree near 20 °C. Players warm the air inside, and correct; pipes of an organ do neither, and
strings go the other way a little: so the figure is where a section will begin, not where it will end.
"""

from __future__ import annotations

import math
from typing import Final

from firmware.errors import OutOfRangeError
from firmware.units import cents_of

ABSOLUTE_ZERO: Final = -273.15
USUAL: Final = 20.0
"""Temperature in °C at which instruments are built to be at pitch (common practice; ISO 16:1975 names 20 °C)."""

RANGE: Final = (0.0, 45.0)
HEAT_RATIO: Final = 1.400
GAS_CONSTANT: Final = 8.314462618
MOLAR_MASS: Final = 0.028965


def speed_of_sound(celsius: float) -> float:
    """Speed of sound in dry air, in m/s.

    Raises
    ------
    OutOfRangeError
        For a temperature that no rehearsal has.
    """
    low, high = RANGE
    if not low <= celsius <= high:
        raise OutOfRangeError("temperature of the room", celsius, f"{low:g} to {high:g} °C")
    return math.sqrt(HEAT_RATIO * GAS_CONSTANT * (celsius - ABSOLUTE_ZERO) / MOLAR_MASS)


def winds_off(celsius: float) -> float:
    """Cents by which winds lie above their pitch at 20 °C, by theory; below if it is colder."""
    return cents_of(speed_of_sound(celsius) / speed_of_sound(USUAL))


def suggested_reference(celsius: float, a4: float) -> float:
    """Reference in Hz at which winds play without pulling or pushing, where a4 is right at 20 °C; to half a Hz."""
    return round(2 * a4 * 2 ** (winds_off(celsius) / 1200)) / 2
