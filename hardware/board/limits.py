"""What the header can bear, each figure with its source. Of two processors the stricter one counts."""

from __future__ import annotations

from typing import Final

VOLTS: Final = 3.3
"""Supply of the pins; more destroys them (Raspberry Pi documentation, "GPIO on Raspberry Pi")."""

PIN_MA: Final = 4.0
"""Current of one output at which its voltage is still specified: BCM2711 at its default strength; BCM2835 has
8 mA (Raspberry Pi documentation, "GPIO on Raspberry Pi", voltage specifications)."""

ALL_PINS_MA: Final = 50.0
"""Current of all pins together (Raspberry Pi documentation, "Power supply": 50 mA over all pins, 16 mA for one)."""

RAIL_3_MA: Final = 250.0
"""What the 3.3 V places of the header are asked for at most: half of what the switching regulator of every board from
the B+ on is said to leave (500 mA, from memory). The very first boards gave 50 mA (from memory) and are too slow."""

LOW_VOLTS: Final = 0.8
"""A pin reads low for certain at or under this: BCM2711; BCM2835 has 0.9 V (same table)."""

HIGH_VOLTS: Final = 2.0
"""A pin reads high for certain at or over this: BCM2711; BCM2835 has 1.6 V (same table)."""

PULL_OHM: Final = (33_000.0, 73_000.0)
"""The processor's own pull-up or pull-down: BCM2711; BCM2835 has 50 to 65 kilohms (same table)."""

LEAK_UA: Final = 10.0
"""Leakage of an input: BCM2711 at 85 degrees; BCM2835 has 5 (same table)."""

I2C_PULL_OHM: Final = 1800.0
"""Fixed pull-ups of GPIO 2 and 3 on every board (from memory)."""

I2C_ADDRESSES: Final = range(0x08, 0x78)
"""Others are reserved (I2C-bus specification UM10204, table "reserved addresses"; from memory)."""

OUTSIDE_PULL_OHM: Final = (1_000.0, 22_000.0)
"""A pull-up where a wire leaves the box: stronger than the processor's own by enough that a damp plug or a long lead
does not win, and weak enough that a contact carries it (common practice)."""

OUTSIDE_SERIES_OHM: Final = 470.0
"""Least resistance between a pin and a wire that leaves the box (common practice). A charged person (8 kV contact,
IEC 61000-4-2 level 4, from memory) brings more than a pin is made for; the capacitor behind the resistor takes most."""

SUPPLY_MA: Final = 3000.0
"""Of the supply that a Pi 4 is recommended (Raspberry Pi documentation, "Power supply")."""

USB_MA: Final = 1200.0
"""For all USB devices together (same table)."""

BARE_MA: Final = 1250.0
"""A Pi 4 under stress, at most (same page, "Typical power requirements")."""

STICK_MA: Final = 300.0
"""A USB stick while it writes (from memory)."""

CLOCK_MA: Final = 0.3
"""A clock chip (from memory)."""
