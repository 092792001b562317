"""The tone and the test sound on a simulated card."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.errors import DeviceError
from firmware.selftest.sound_figures import played
from firmware.units import BLOCK, RATE, db_of
from hardware.drivers.sound_probe import TONE_DB, SoundProbe
from hardware.simulated.sound_card import SimulatedSoundCard


@pytest.fixture
def card() -> SimulatedSoundCard:
    return SimulatedSoundCard()


def test_it_is_silent_until_it_is_asked(card: SimulatedSoundCard) -> None:
    probe = SoundProbe(card)
    probe.start()
    assert not card.run(20).any()
    assert probe.recorded(0) is None


def test_the_tone_is_one_tone_without_a_seam(card: SimulatedSoundCard) -> None:
    probe = SoundProbe(card)
    probe.start()
    probe.tone(on=True)
    sound = card.run(4 * RATE // BLOCK)
    whole = np.sin(2 * np.pi * 1000.0 * np.arange(len(sound)) / RATE)
    assert np.allclose(sound, whole * np.abs(sound).max(), atol=1e-3)
    assert db_of(float(np.abs(sound).max())) == pytest.approx(TONE_DB, abs=0.01)
    probe.tone(on=False)
    assert not card.run(2).any()


def test_what_was_heard_lies_beside_what_was_played(card: SimulatedSoundCard) -> None:
    probe = SoundProbe(card)
    probe.start()
    heard = np.random.default_rng(3).uniform(-0.1, 0.1, len(played()) + BLOCK).astype(np.float32)
    card.feed(heard)
    probe.record()
    sound = card.run(10)
    assert probe.recorded(0) is None
    sound = np.concatenate([sound, card.run(-(-len(played()) // BLOCK) - 10)])
    told = probe.recorded(9)
    assert told is not None
    assert told.at == 9
    assert np.array_equal(told.mic, heard[: len(played())])
    assert np.array_equal(sound[: len(played())], told.own)
    assert probe.recorded(10) is None


def test_blocks_that_were_lost_are_counted(card: SimulatedSoundCard) -> None:
    probe = SoundProbe(card)
    probe.start()
    probe.record()
    card.run(5)
    card.stall()
    card.run(3)
    card.reopen()
    card.run(-(-len(played()) // BLOCK))
    told = probe.recorded(0)
    assert told is not None
    assert told.lost == 3


def test_without_a_card_it_says_so() -> None:
    with pytest.raises(DeviceError):
        SoundProbe(SimulatedSoundCard(present=False)).start()
