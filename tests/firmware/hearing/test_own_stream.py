"""The full band is handed on only where nothing of ours can be in it, and is of the same stretch as what is cleaned."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.own_sound import RING_SECONDS
from firmware.hearing.own_stream import FACTOR, HOP, CleanedStream

RATE = 48_000


def test_the_full_band_is_that_of_the_same_stretch():
    mic = (0.1 * np.random.default_rng(1).standard_normal(RATE // 2)).astype(np.float32)
    stream = CleanedStream()
    stream.amplify(6.0)
    hops = list(stream.process(mic, np.zeros(len(mic), np.float32)))
    full = np.concatenate([hop.full for hop in hops if hop.full is not None])
    delay = stream.delay
    assert len(full) == FACTOR * HOP * len(hops)
    assert full[delay:] == pytest.approx(10 ** (6 / 20) * mic[: len(full) - delay], rel=1e-6)
    assert [hop.end for hop in hops] == [FACTOR * HOP * number - delay for number in range(1, len(hops) + 1)]


def test_it_is_held_back_while_we_sound_and_for_as_long_as_a_room_rings():
    own = np.zeros(3 * RATE, np.float32)
    own[RATE // 2 : RATE] = 0.01
    for gain in (1.0, 1e-4):
        hops = list(CleanedStream().process(np.full(len(own), 0.01, np.float32), own * np.float32(gain)))
        given = np.array([hop.full is not None for hop in hops])
        ends = FACTOR * HOP * np.arange(1, len(hops) + 1) / RATE
        silent = (ends <= 0.5) | (ends >= 1.0 + RING_SECONDS)
        # A quiet tone is 100 dB under full scale or less: nothing.
        assert np.array_equal(given, silent if gain == 1.0 else np.ones(len(hops), bool))
