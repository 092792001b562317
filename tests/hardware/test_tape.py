"""The tape hands on every sample once and in order, or counts it as dropped."""

from __future__ import annotations

import threading

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.tape import Tape


def ramp(first: int, count: int) -> np.ndarray:
    return np.arange(first, first + count, dtype=np.float32)


@settings(max_examples=60)
@given(
    steps=st.lists(st.one_of(st.integers(0, 70), st.just("take")), max_size=60),
    slots=st.integers(1, 6),
    block=st.integers(1, 32),
)
def test_what_comes_out_is_what_went_in(steps: list[int | str], slots: int, block: int):
    tape = Tape(slots, block)
    position = pieces = 0
    for step in steps:
        if step == "take":
            piece = tape.take()
            if piece is not None:
                pieces += 1
                assert np.array_equal(piece.mic, ramp(piece.position, len(piece.mic)))
                assert np.array_equal(piece.own, -piece.mic)
        else:
            assert isinstance(step, int)
            mic = ramp(position, step)
            tape.put(mic, -mic, position)
            position += step
        assert len(tape) <= slots
    put = sum(-(-step // block) for step in steps if isinstance(step, int))
    assert pieces + len(tape) + tape.dropped == put


def test_a_full_tape_keeps_the_old_and_counts_the_new():
    tape = Tape(slots=2, block=4)
    for first in (0, 4, 8):
        tape.put(ramp(first, 4), ramp(first, 4), first)
    assert tape.dropped == 1
    first, second = tape.take(), tape.take()
    assert first is not None
    assert second is not None
    assert (first.position, second.position) == (0, 4)
    assert tape.take() is None


def test_a_piece_does_not_change_when_its_slot_is_used_again():
    tape = Tape(slots=1, block=4)
    tape.put(ramp(0, 4), ramp(0, 4), 0)
    piece = tape.take()
    tape.put(ramp(4, 4), ramp(4, 4), 4)
    assert piece is not None
    assert piece.mic.tolist() == [0, 1, 2, 3]


def test_two_threads_lose_nothing():
    tape = Tape(slots=8, block=16)
    total = 5000
    seen: list[int] = []

    def read() -> None:
        while len(seen) + tape.dropped < total:
            piece = tape.take()
            if piece is not None:
                assert np.all(piece.mic == piece.position)
                seen.append(piece.position)

    reader = threading.Thread(target=read)
    reader.start()
    for number in range(total):
        block = np.full(16, number, dtype=np.float32)
        tape.put(block, block, number)
    reader.join(20)
    assert not reader.is_alive()
    assert seen == sorted(set(seen))
    assert len(seen) + tape.dropped == total
