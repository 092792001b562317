"""Our packed pictures leave the chip's memory just as luma's own, pixel by pixel, would; faults become DeviceError."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import smbus2
from hypothesis import given, settings
from hypothesis import strategies as st
from luma.core.interface.serial import i2c
from luma.oled.device import sh1106, ssd1306
from PIL import Image

from firmware.errors import DeviceError
from firmware.screens.frame import Frame
from hardware.board.table import CHIPS as BOARD_CHIPS
from hardware.board.table import ScreenPort
from hardware.drivers.oled_chip import CHIPS, OledPanel, columns_of
from hardware.simulated.oled_chip import SimulatedOledChip

LUMA = {"ssd1306": ssd1306, "sh1106": sh1106}


def test_every_chip_that_a_board_may_name_is_here() -> None:
    assert set(CHIPS) == set(BOARD_CHIPS)


@pytest.mark.parametrize("name", BOARD_CHIPS)
def test_memory_is_as_luma_itself_would_leave_it(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # Outside check: luma.oled's own display() on the same model of the chip.
    theirs, ours = SimulatedOledChip(name), SimulatedOledChip(name)
    monkeypatch.setattr(smbus2, "SMBus", theirs.bus)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # Pillow's getdata, the reason why we replace display()
        chip = LUMA[name](i2c(port=1, address=0x3C))
        chip.persist = True
        monkeypatch.setattr(smbus2, "SMBus", ours.bus)
        panel = OledPanel(ScreenPort(name, 1, 0x3C))
        for seed in range(10):
            bits = np.random.default_rng(seed).bytes(1024)
            chip.display(Image.frombytes("1", (128, 64), bits))
            panel.write(Frame(bits))
            assert np.array_equal(theirs.memory, ours.memory)
            assert ours.picture() == theirs.picture() == Frame(bits)
    panel.close()


@settings(max_examples=30)
@given(st.binary(min_size=1024, max_size=1024))
def test_packing_puts_every_pixel_in_its_column(bits: bytes) -> None:
    columns = columns_of(bits)
    frame = Frame(bits)
    for x, y in ((0, 0), (127, 63), (64, 31), (3, 8), (100, 55)):
        assert bool(columns[y // 8 * 128 + x] >> (y % 8) & 1) == frame.lit(x, y)


@pytest.mark.parametrize("name", BOARD_CHIPS)
@pytest.mark.parametrize("degrees", [0, 180])
def test_a_thousand_frames_lie_in_the_chip_bit_for_bit(
    name: str, degrees: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    chip = SimulatedOledChip(name)
    monkeypatch.setattr(smbus2, "SMBus", chip.bus)
    panel = OledPanel(ScreenPort(name, 1, 0x3C, rotated=degrees == 180))
    random = np.random.default_rng(1306)
    for _ in range(1000):
        bits = random.integers(0, 2, (64, 128), dtype=np.uint8)
        panel.write(Frame(np.packbits(bits).tobytes()))
        seen = np.unpackbits(np.frombuffer(chip.picture().bits, dtype=np.uint8)).reshape(64, 128)
        assert np.array_equal(seen, np.rot90(bits, degrees // 90))
    panel.close()


@pytest.mark.parametrize("name", BOARD_CHIPS)
def test_whichever_byte_the_wire_breaks_at_the_next_opening_shows_the_picture(name: str) -> None:
    chip = SimulatedOledChip(name)
    port = ScreenPort(name, 1, 0x3C)

    def session(seed: int) -> None:
        panel = OledPanel(port)
        try:
            panel.contrast(seed % 256)
            panel.write(Frame(np.random.default_rng(seed).bytes(1024)))
            panel.renew()
            panel.write(Frame(np.random.default_rng(seed + 1).bytes(1024)))
        finally:
            panel.close()

    @settings(max_examples=300, deadline=None)
    @given(st.integers(0, 3400))
    def breaks(byte: int) -> None:
        chip.breaks_after = byte
        before = chip.sent
        try:
            session(byte)
        except DeviceError:
            assert chip.sent - before == byte
        else:
            assert chip.sent - before <= byte
        chip.breaks_after = None
        session(byte + 7)
        assert chip.picture() == Frame(np.random.default_rng(byte + 8).bytes(1024))
        assert chip.contrast == (byte + 7) % 256

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(smbus2, "SMBus", chip.bus)
        breaks()


def test_a_frame_is_at_most_1034_bytes_and_a_few_commands(monkeypatch: pytest.MonkeyPatch) -> None:
    chip = SimulatedOledChip()
    monkeypatch.setattr(smbus2, "SMBus", chip.bus)
    panel = OledPanel(ScreenPort("ssd1306", 1, 0x3C))
    before = chip.sent
    panel.write(Frame())
    assert chip.sent - before <= 1034
    panel.close()


@pytest.mark.parametrize("name", BOARD_CHIPS)
@pytest.mark.parametrize("act", [lambda panel: panel.write(Frame()), lambda panel: panel.contrast(9)])
def test_a_panel_that_stops_answering_raises_device_error(
    name: str, act: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    chip = SimulatedOledChip(name)
    monkeypatch.setattr(smbus2, "SMBus", chip.bus)
    panel = OledPanel(ScreenPort(name, 1, 0x3C))
    chip.plugged = False
    with pytest.raises(DeviceError, match="0x3c"):
        act(panel)
    panel.close()


def test_nobody_at_the_address_raises_device_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(smbus2, "SMBus", SimulatedOledChip(address=0x3D).bus)
    with pytest.raises(DeviceError, match="must answer"):
        OledPanel(ScreenPort("ssd1306", 1, 0x3C))
