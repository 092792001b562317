"""The simulated input devices give what evdev gives: its own C code reads their pipe, too."""

from __future__ import annotations

import pytest
from evdev import _input, ecodes

from hardware.simulated.input_device import ENCODER, SimulatedInput, SimulatedInputs


def test_evdevs_own_reader_understands_the_bytes() -> None:
    device = SimulatedInput()
    device.press(ecodes.KEY_KP7)
    read = _input.device_read_many(device.fd)
    assert [tuple(event)[2:] for event in read] == [
        (ecodes.EV_KEY, ecodes.KEY_KP7, 1),
        (ecodes.EV_SYN, ecodes.SYN_REPORT, 0),
    ]
    device.unplug()
    device.close()


def test_it_gives_events_blocks_when_empty_and_fails_when_gone() -> None:
    device = SimulatedInput(ENCODER)
    with pytest.raises(BlockingIOError):
        list(device.read())
    device.turn(3)
    device.repeat(78)
    assert [(one.type, one.code, one.value) for one in device.read()] == [(2, 0, 3), (0, 0, 0), (1, 78, 2), (0, 0, 0)]
    device.unplug()
    with pytest.raises(OSError, match="No such device"):
        list(device.read())
    device.close()
    device.close()


def test_inputs_come_and_go() -> None:
    inputs = SimulatedInputs()
    path = inputs.plug(SimulatedInput())
    first = inputs.there()[path]
    inputs.unplug(path)
    with pytest.raises(FileNotFoundError):
        inputs.open(path)
    inputs.plug(SimulatedInput(), path)
    assert inputs.there()[path] != first
    inputs.denied.add(path)
    with pytest.raises(PermissionError):
        inputs.open(path)
