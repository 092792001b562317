"""The model of the chip is strict enough to catch a driver that forgets a step."""

from __future__ import annotations

import pytest
from smbus2 import i2c_msg

from firmware.screens.frame import Frame
from hardware.simulated.oled_chip import MODELS, SimulatedOledChip

SET_UP = [0xA1, 0xC8, 0xAF]
ONE_PIXEL = Frame(bytes([0x80]) + bytes(1023))


def ready(model: str = "ssd1306") -> SimulatedOledChip:
    chip = SimulatedOledChip(model)
    chip.memory[:] = 0
    chip.write_i2c_block_data(0x3C, 0x00, SET_UP)
    return chip


def data(chip: SimulatedOledChip, *values: int) -> None:
    chip.i2c_rdwr(i2c_msg.write(0x3C, [0x40, *values]))


def test_it_is_dark_until_switched_on() -> None:
    chip = SimulatedOledChip()
    assert chip.picture() == Frame()
    chip.write_i2c_block_data(0x3C, 0x00, [0xAF])
    assert chip.picture() != Frame()


def test_a_byte_is_eight_pixels_of_a_column_the_lowest_bit_on_top() -> None:
    chip = ready()
    data(chip, 0b0000_0001)
    assert chip.picture() == ONE_PIXEL


def test_the_larger_chip_begins_at_its_third_column() -> None:
    chip = ready("sh1106")
    data(chip, 0xFF, 0xFF, 0x01)
    assert chip.picture() == ONE_PIXEL


@pytest.mark.parametrize(("command", "lit"), [(0xA0, (127, 0)), (0xC0, (0, 63))])
def test_either_axis_can_be_turned_round(command: int, lit: tuple[int, int]) -> None:
    chip = ready()
    data(chip, 0x01)
    chip.write_i2c_block_data(0x3C, 0x00, [command])
    assert chip.picture().lit(*lit)


def test_inverted_and_shifted_pictures_are_seen_so() -> None:
    chip = ready()
    data(chip, 0x02)
    chip.write_i2c_block_data(0x3C, 0x00, [0x41])
    assert chip.picture() == ONE_PIXEL
    chip.write_i2c_block_data(0x3C, 0x00, [0xA7])
    assert not chip.picture().lit(0, 0)
    assert chip.picture().lit(1, 0)


def test_without_a_window_the_memory_does_not_wrap_to_the_next_page() -> None:
    chip = ready("sh1106")
    data(chip, *[0xFF] * 200)
    assert chip.memory[0].all()
    assert not chip.memory[1:].any()


def test_in_a_window_it_does() -> None:
    chip = ready()
    chip.write_i2c_block_data(0x3C, 0x00, [0x20, 0x00, 0x21, 10, 11, 0x22, 3, 4])
    data(chip, 1, 2, 3, 4, 5)
    assert chip.memory[3, 10:12].tolist() == [5, 2]
    assert chip.memory[4, 10:12].tolist() == [3, 4]


def test_arguments_are_not_taken_for_commands() -> None:
    chip = ready()
    chip.write_i2c_block_data(0x3C, 0x00, [0x81, 0xAE, 0xD5, 0xA7])
    assert chip.on
    assert not chip.inverted
    assert chip.contrast == 0xAE


@pytest.mark.parametrize("model", MODELS)
def test_nobody_answers_at_another_address_or_on_a_loose_cable(model: str) -> None:
    chip = SimulatedOledChip(model)
    with pytest.raises(OSError, match="nobody"):
        chip.write_i2c_block_data(0x3D, 0x00, [0xAF])
    chip.plugged = False
    with pytest.raises(OSError, match="nobody"):
        chip.write_i2c_block_data(0x3C, 0x00, [0xAF])


def test_a_wrong_control_byte_is_refused() -> None:
    with pytest.raises(OSError, match="control byte"):
        ready().write_i2c_block_data(0x3C, 0x80, [0xAF])


def test_a_wire_that_breaks_leaves_what_came_before_and_a_command_waits_for_its_arguments() -> None:
    chip = ready()
    chip.breaks_after = 3
    with pytest.raises(OSError, match="Input/output"):
        chip.write_i2c_block_data(0x3C, 0x00, [0xA7, 0x21, 5, 9])
    assert chip.inverted
    with pytest.raises(OSError, match="Input/output"):
        chip.write_i2c_block_data(0x3C, 0x00, [0xA6])
    assert chip.inverted
    chip.breaks_after = None
    chip.write_i2c_block_data(0x3C, 0x00, [0xA6, 0xAE, 0xA6])  # the first two are taken for the window
    assert chip.window[:2] == (0xA6, 0xAE)
    assert chip.on
    assert not chip.inverted
