"""What the stand-ins promise beyond the contract: driving, looping, and keeping time by a clock that is passed in."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from firmware.units import BLOCK, RATE, Samples
from hardware.simulated.sound_card import SKIP_SECONDS, LoopedMicrophone, QuietCard, SimulatedSoundCard


def test_run_gives_what_was_played_and_zero_where_nothing_was():
    card = SimulatedSoundCard()
    assert not card.run(2).any()
    card.start(lambda mic: mic + np.float32(0.5))
    assert np.all(card.run(2) == 0.5)
    assert np.all(card.last_output == 0.5)
    card.stop()
    assert not card.run(1).any()
    assert card.lost == 0


def test_the_microphone_hears_what_is_fed_and_then_silence():
    card, heard = SimulatedSoundCard(block=4), list[list[float]]()

    def process(mic: Samples) -> Samples:
        heard.append(mic.tolist())
        return mic

    card.start(process)
    card.feed(np.array([1, 2, 3], dtype=np.float32))
    card.feed(np.array([4, 5, 6], dtype=np.float32))
    card.run(3)
    assert heard == [[1, 2, 3, 4], [5, 6, 0, 0], [0, 0, 0, 0]]


def test_a_stalled_card_says_nothing_counts_blocks_and_runs_after_it_is_reopened():
    card = SimulatedSoundCard()
    card.start(lambda mic: mic + np.float32(0.5))
    card.run(1)
    card.stall()
    assert not card.run(3).any()
    assert card.lost == 3
    assert card.healthy()
    card.run(RATE // BLOCK)
    assert not card.healthy()
    assert card.reopen()
    assert card.run(1).all()
    assert card.healthy()


@pytest.mark.parametrize("length", [1, 3, 700])
def test_a_looped_recording_goes_round_without_a_gap(length: int):
    sound = np.arange(length, dtype=np.float32)
    microphone = LoopedMicrophone(sound)
    read = np.concatenate([microphone.read(count) for count in (5, 512, 0, 512)])
    assert np.array_equal(read, np.resize(sound, 1029))
    assert read.dtype == np.float32


def test_an_empty_recording_is_silence():
    assert LoopedMicrophone(np.zeros(0, dtype=np.float32)).read(3).tolist() == [0, 0, 0]


class Clock:
    """Time that passes only when somebody waits, and jumps where the test says so."""

    def __init__(self, calls: int, jump_after: int, jump: float) -> None:
        self.time = 0.0
        self.waits = 0
        self._calls, self._jump_after, self._jump = calls, jump_after, jump

    def now(self) -> float:
        return self.time

    def wait(self, seconds: float) -> bool:
        self.waits += 1
        self.time += seconds + (self._jump if self.waits == self._jump_after else 0.0)
        return self.waits > self._calls


@pytest.mark.parametrize(("jump", "lost"), [(0.0, 0), (SKIP_SECONDS / 2, 0), (10.0, round(10.0 * RATE / BLOCK))])
def test_a_computer_that_slept_is_made_up_for_only_in_part(jump: float, lost: int):
    clock = Clock(calls=100, jump_after=50, jump=jump)
    card = QuietCard(now=clock.now)
    calls: list[float] = []
    card._process = lambda mic: calls.append(clock.time) or mic  # type: ignore[func-returns-value]  # notes the time
    card._ended = clock  # type: ignore[assignment]  # the clock stands in for waiting
    card._keep_time()
    assert len(calls) == 100
    assert card.lost == pytest.approx(lost, abs=1)
    steps = np.diff(calls)
    assert np.median(steps) == pytest.approx(BLOCK / RATE, abs=1e-9) or jump
    # After a short hold-up the calls catch up with the time; after a long sleep they only go on.
    expected = 99 * BLOCK / RATE if jump < SKIP_SECONDS else 99 * BLOCK / RATE + jump
    assert calls[-1] - calls[0] == pytest.approx(expected, abs=2 * BLOCK / RATE)


def test_stop_from_within_the_callback_does_not_wait_for_itself():
    card, stopped = QuietCard(), threading.Event()

    def process(mic: Samples) -> Samples:
        card.stop()
        stopped.set()
        return mic

    card.start(process)
    assert stopped.wait(5)
    assert not card.healthy()
