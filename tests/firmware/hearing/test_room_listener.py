"""The room check on a stream of blocks."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.events import Fault
from firmware.hearing.room import Room
from firmware.hearing.room_listener import RoomListener
from firmware.room_events import RoomChecked
from firmware.sound.sweep import sweep
from firmware.units import Samples

OFFSET = 100_000


def stream() -> tuple[Samples, Samples]:
    """Own sound with a check that begins at sample 200000, and a microphone that hears it 1000 samples later."""
    own = np.zeros(460_000, np.float32)
    own[200_000:344_000] = np.tile(sweep(), 2) * np.float32(0.1)
    mic = np.roll(own, 1000) * np.float32(0.2)
    mic += np.random.default_rng(1).standard_normal(len(mic)).astype(np.float32) * np.float32(1e-4)
    return mic, own


def run(listener: RoomListener, mic: Samples, own: Samples, block: int) -> list[object]:
    told: list[object] = []
    for start in range(0, len(mic), block):
        told += listener.process(mic[start : start + block], own[start : start + block])
    return told


@pytest.mark.parametrize("block", [512, 30_001])
def test_it_learns_from_the_stretch_it_was_given(block: int) -> None:
    rooms: list[Room] = []
    listener = RoomListener(learned=rooms.append)
    listener.check(OFFSET, 450_000)
    told = run(listener, *stream(), block)
    assert len(told) == 1
    found = told[0]
    assert isinstance(found, RoomChecked)
    assert found.delay_ms == pytest.approx(1000 / 48, abs=0.02)
    assert found.level_db == pytest.approx(-14.0, abs=0.1)
    assert found.removal_db > 40.0
    assert listener.room is not None
    assert 200_000 <= listener.room.since < 200_600
    assert rooms == [listener.room]


def test_without_being_asked_it_learns_nothing() -> None:
    listener = RoomListener()
    assert run(listener, *stream(), 4800) == []
    assert listener.room is None


def test_a_check_that_hears_nothing_says_so_and_may_be_repeated() -> None:
    mic, own = stream()
    listener = RoomListener()
    listener.check(OFFSET, 450_000)
    (fault,) = run(listener, np.zeros_like(mic), own, 4800)
    assert isinstance(fault, Fault)
    assert fault.message == "room-check-failed"
    listener.check(460_000 + OFFSET, 460_000 + 450_000)
    (found,) = run(listener, mic, own, 4800)
    assert isinstance(found, RoomChecked)
    assert listener.room is not None
    assert listener.room.since >= 660_000


def test_a_check_may_be_asked_for_late() -> None:
    mic, own = stream()
    listener = RoomListener()
    run(listener, mic[:150_000], own[:150_000], 5000)
    listener.check(OFFSET, 450_000)
    assert len(run(listener, mic[150_000:], own[150_000:], 5000)) == 1
