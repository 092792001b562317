"""Every rule of the board sees the fault that it is there for, and our own board has none."""

from __future__ import annotations

from dataclasses import replace

import pytest

from hardware.board import limits
from hardware.board.checks import CHECKS, buses_of, led_ma, pins_ma, problems_of, rail_ma, supply_ma
from hardware.board.header import I2C, I2S, ID_MEMORY, SERIAL, SPI
from hardware.board.parts import Board
from hardware.board.table import VARIANTS, own_board

A, B = (own_board(name) for name in VARIANTS)
ON_SPI = replace(A, screen=replace(A.screen, interface="spi"))

BAD = {
    "two keys on one pin": (replace(A, power=replace(A.power, pin=5)), "_pins_apart", "power key", "key Drone"),
    "LED on a key": (replace(A, led=replace(A.led, pin=26)), "_pins_apart", "LED", "key Replay"),
    "knob on I2C": (replace(A, knob=replace(A.knob, a=2)), "_pins_apart", "knob a", I2C),
    "knob on the ID memory": (replace(A, knob=replace(A.knob, push=1)), "_pins_apart", "knob push", ID_MEMORY),
    "key on I2S": (replace(B, power=replace(B.power, pin=20)), "_pins_apart", "power key", I2S),
    "LED on SPI": (replace(ON_SPI, led=replace(A.led, pin=7)), "_pins_apart", "LED", SPI),
    "screen on the console": (replace(ON_SPI, serial_console=True), "_pins_apart", "screen DC", SERIAL),
    "two on one address": (
        replace(A, clock=replace(A.clock, fitted=True, address=0x3C)),
        "_addresses_apart",
        "clock chip",
        "screen",
    ),
    "no pull-up at the pedals": (
        replace(A, pedals=replace(A.pedals, pull_up=0.0)),
        "_pulled_up",
        "pull-up",
        "leaves the box",
    ),
    "a pull-up as weak as the processor's": (
        replace(A, pedals=replace(A.pedals, pull_up=47_000.0)),
        "_pulled_up",
        "47000 ohms",
        "22000",
    ),
    "no resistor in series": (
        replace(A, pedals=replace(A.pedals, series=0.0)),
        "_guarded",
        "series resistor",
        "leaves the box",
    ),
    "closed pedal not low": (
        replace(A, pedals=replace(A.pedals, series=4_700.0)),
        "_reads_low",
        "4700 ohms",
        "0.8 V",
    ),
    "open pedal not high": (
        replace(A, pedals=replace(A.pedals, pull_up=150_000.0)),
        "_reads_high",
        "pull-up",
        "2.0 V",
    ),
    "capacitor too great": (
        replace(A, pedals=replace(A.pedals, filter=1e-6)),
        "_rises_in_time",
        "1000 nF",
        "settle_ms",
    ),
    "LED without its resistor": (replace(A, led=replace(A.led, series=100.0)), "_currents", "LED", "one pin"),
    "LED shorted": (replace(A, led=replace(A.led, series=0.0)), "_currents", "current of all pins", "50 mA"),
    "hungry screen": (replace(A, screen=replace(A.screen, supply_ma=300.0)), "_currents", "3.3 V", "header"),
    "hungry sound": (replace(A, variant=replace(A.variant, supply_ma=1000.0)), "_currents", "sound and stick", "USB"),
    "all too hungry": (replace(A, variant=replace(A.variant, supply_ma=1500.0)), "_currents", "everything", "supply"),
}


@pytest.mark.parametrize("board", [A, B], ids=["A", "B"])
def test_our_own_board_has_no_problem(board: Board) -> None:
    assert problems_of(board) == ()


def test_a_screen_on_spi_is_no_problem() -> None:
    assert problems_of(ON_SPI) == ()


@pytest.mark.parametrize("name", BAD)
def test_a_bad_board_is_seen_by_its_rule(name: str) -> None:
    board, rule, thing, allowed = BAD[name]
    (check,) = [one for one in CHECKS if one.__name__ == rule]
    found = list(check(board))
    assert any(thing in f"{problem[0]} {problem[1]}" and allowed in problem[2] for problem in found), found
    assert set(found) <= set(problems_of(board))


def test_every_rule_has_a_bad_board() -> None:
    assert {rule for _, rule, _, _ in BAD.values()} == {one.__name__ for one in CHECKS}


def test_buses_in_use_follow_the_parts() -> None:
    assert buses_of(A) == (ID_MEMORY, I2C)
    assert buses_of(B) == (ID_MEMORY, I2C, I2S)
    assert buses_of(ON_SPI) == (ID_MEMORY, SPI)
    assert buses_of(replace(ON_SPI, clock=replace(A.clock, fitted=True))) == (ID_MEMORY, I2C, SPI)


def test_currents_follow_ohms_law() -> None:
    # Worked by hand from the file: (3.3 - 1.8) V over 680 ohms; 12 contacts over 33 kilohms and two pedals over 11.
    assert led_ma(A) == pytest.approx(1500 / 680)
    assert pins_ma(A) == pytest.approx(1500 / 680 + 12 * 3300 / 33_000 + 2 * 3300 / 11_000)
    assert rail_ma(A) == pytest.approx(130 + 2 * 3300 / 11_000 + 2 * 3300 / 1800)
    assert supply_ma(A) == pytest.approx(1250 + rail_ma(A) + led_ma(A) + 250 + 300)
    assert limits.PIN_MA < 16 < limits.ALL_PINS_MA
