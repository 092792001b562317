"""The sound of a passage: every sample once, loops of exact length without a break, slower when asked."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.passage import Passage
from firmware.sound.passage_sound import FIRST_PIECE, PIECE, SEAM, PassageSound
from firmware.units import RATE, Samples

TAKE = np.random.default_rng(1).standard_normal(3 * RATE).astype(np.float32) * 0.1
TONE = (0.1 * np.sin(2 * np.pi * 220.0 * np.arange(3 * RATE) / RATE)).astype(np.float32)


def played(passage: Passage, take: Samples = TAKE, most: int = 20 * RATE) -> np.ndarray:
    sound = PassageSound(passage, lambda first, count: take[first : first + count])
    pieces: list[Samples] = []
    while not sound.over and sum(map(len, pieces)) < most:
        pieces.append(sound.next())
    return np.concatenate(pieces)


@pytest.mark.parametrize("first", [0, 77, 3 * RATE, 4 * RATE])
def test_without_a_loop_all_is_played_once(first: int) -> None:
    assert np.array_equal(played(Passage(first)), TAKE[first:])


def test_an_exact_fit_ends_too() -> None:
    take = TAKE[: FIRST_PIECE + PIECE]
    assert np.array_equal(played(Passage(), take), take)


@pytest.mark.parametrize("count", [1, 5_000, FIRST_PIECE, FIRST_PIECE + PIECE, RATE])
def test_a_count_is_kept(count: int) -> None:
    assert np.array_equal(played(Passage(100, count=count)), TAKE[100 : 100 + count])
    assert np.array_equal(played(Passage(3 * RATE - 10, count=count)), TAKE[-10:][:count])


@given(st.integers(0, RATE), st.integers(2, RATE), st.integers(0, 2 * RATE))
@settings(max_examples=40, deadline=None)
def test_a_loop_keeps_its_length_and_its_middle(begin: int, length: int, first: int) -> None:
    end = begin + length
    sound = played(Passage(first, 1.0, begin, end), most=first + 4 * length)
    seam = min(SEAM, length // 2)
    start = begin if first >= end else first
    place = Passage(start, 1.0, begin, end)
    for at in range(0, len(sound), max(1, len(sound) // 50)):
        here = place.place(at)
        if here < end - seam:
            assert sound[at] == TAKE[here]


def test_a_loop_has_no_break_at_its_seam() -> None:
    # a loop of 10 ms more than whole periods: a bare cut would jump by as much as 0.2
    sound = played(Passage(0, 1.0, RATE // 2, RATE + 137), TONE, 4 * RATE)
    steady = 2 * np.pi * 220.0 / RATE * 0.1
    assert np.abs(np.diff(sound)).max() <= 1.5 * steady
    loud = np.sqrt(np.convolve(sound.astype(np.float64) ** 2, np.ones(960) / 960, "valid"))
    assert loud.max() <= 0.0708 * 1.45  # two parts that agree add up to 3 dB
    noise = played(Passage(0, 1.0, RATE // 2, RATE + 137), TAKE, 4 * RATE)
    level = np.sqrt(np.convolve(noise.astype(np.float64) ** 2, np.ones(960) / 960, "valid"))
    assert level.min() >= 0.09
    assert level.max() <= 0.111


def test_a_loop_from_the_start_fades_in() -> None:
    sound = played(Passage(0, 1.0, 0, RATE), most=3 * RATE)
    assert np.array_equal(sound[RATE : RATE + 100], TAKE[:100])
    assert abs(sound[RATE - 1]) < abs(TAKE[RATE - 1])


def test_a_take_that_is_shorter_than_its_loop_goes_round_all_the_same() -> None:
    take = TAKE[:RATE]
    sound = played(Passage(0, 1.0, RATE // 2, 2 * RATE), take, 3 * RATE)
    assert np.array_equal(sound[: RATE + RATE // 2], np.concatenate([take, take[RATE // 2 :]]))
    assert len(played(Passage(0, 1.0, 2 * RATE, 3 * RATE), take)) == RATE
    assert len(played(Passage(0, 0.5, 2 * RATE, 3 * RATE), take)) == 2 * RATE


def test_slower_is_longer_and_the_first_sound_comes_from_the_first_piece() -> None:
    assert len(played(Passage(RATE, 0.5))) == 4 * RATE
    sound = PassageSound(Passage(0, 0.5), lambda first, count: TAKE[first : first + count])
    assert len(sound.next()) > 0


def test_what_reading_raises_comes_out() -> None:
    def refuse(_first: int, _count: int) -> Samples:
        raise OSError

    with pytest.raises(OSError):
        PassageSound(Passage(), refuse).next()
