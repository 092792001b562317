"""A note is read as soon as a few of its periods have sounded, and nothing else is."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.heard_events import Heard
from firmware.hearing.first_look import FirstLook, read_beginning
from firmware.units import RATE

QUIET_SECONDS = 2.0


def beginning(hz: float, *, rise: float = 0.005, late: int = 0, noise: float = 1e-4) -> np.ndarray:
    """Two seconds of a quiet room, then a tone of 1/k partials."""
    start = int(QUIET_SECONDS * RATE) + late
    time = np.arange(int(0.3 * RATE)) / RATE
    sound = sum(np.cos(2 * np.pi * k * hz * time + k * k) / k for k in range(1, min(20, int(20_000 / hz)) + 1))
    whole = noise * np.random.default_rng(late).standard_normal(start + len(time))
    whole[start:] += 0.1 * sound * np.clip(time / rise, 0, 1)
    return whole.astype(np.float32)


def looks(mic: np.ndarray, own: np.ndarray | None = None, block: int = 512) -> list[tuple[int, Heard]]:
    """Readings, each with the sample count at which it was told."""
    first, found = FirstLook(), []
    played = np.zeros(len(mic), np.float32) if own is None else own
    for at in range(0, len(mic) - block + 1, block):
        heard = first.process(mic[at : at + block], played[at : at + block])
        if heard is not None:
            found.append((at + block, heard))
    return found


@pytest.mark.parametrize(("hz", "within"), [(41.2, 70), (58.27, 55), (116.54, 42), (233.08, 42), (932.3, 42)])
def test_it_is_read_within_a_few_periods_and_once(hz: float, within: float):
    for late in (0, 200, 400):
        ((told, heard),) = looks(beginning(hz, late=late))
        start = int(QUIET_SECONDS * RATE) + late
        assert (told - start) / 48 <= within
        assert heard.hz is not None
        assert abs(1200 * np.log2(heard.hz / hz)) <= 6
        assert start < heard.at < told


def test_blocks_of_any_length_tell_the_same_note():
    for block in (96, 700, 4096):
        found = looks(beginning(233.08), block=block)
        assert [round(heard.hz or 0) for _, heard in found] in ([233], [] if block > 3600 else [233])


def test_noise_a_knock_and_a_slow_swell_are_left_to_the_ear():
    rng = np.random.default_rng(4)
    noise = np.concatenate([1e-4 * rng.standard_normal(2 * RATE), 0.1 * rng.standard_normal(RATE // 2)])
    assert not looks(noise.astype(np.float32))
    knock = beginning(700.0, noise=1e-4)
    knock[2 * RATE :] *= np.exp(-np.arange(len(knock) - 2 * RATE) / 200).astype(np.float32)
    assert not looks(knock)
    assert not looks(beginning(233.08, rise=0.29))


def test_while_the_box_sounds_it_looks_at_nothing():
    mic = beginning(233.08)
    own = np.zeros(len(mic), np.float32)
    own[RATE : RATE + 480] = 0.1
    assert not looks(mic, own)


def test_the_gain_counts_in_the_level():
    first, louder = FirstLook(), FirstLook()
    louder.amplify(6.0)
    mic, silent = beginning(233.08), np.zeros(512, np.float32)
    levels = []
    for one in (first, louder):
        found = [one.process(mic[at : at + 512], silent) for at in range(0, len(mic) - 511, 512)]
        levels.append(next(heard.level_db for heard in found if heard is not None))
    assert levels[1] - levels[0] == pytest.approx(6.0, abs=0.01)


def test_silence_and_too_little_are_no_pitch():
    assert read_beginning(np.zeros(600), 12_000.0) is None
    assert read_beginning(np.ones(100), 12_000.0) is None
    time = np.arange(300) / 12_000
    assert read_beginning(np.cos(2 * np.pi * 50 * time), 12_000.0) is None
