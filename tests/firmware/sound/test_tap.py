"""The tap hands on what was written, sample for sample, and silence for what is gone or to come."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firmware.sound.tap import Tap


@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7), st.booleans()), max_size=40))
def test_the_reader_gets_the_writers_samples(steps: list[tuple[int, int, bool]]) -> None:
    tap, written, got = Tap(8), np.zeros(0, np.float32), 0
    for write, read, silent in steps:
        sound = np.arange(len(written) + 1, len(written) + 1 + write, dtype=np.float32)
        tap.write(None if silent else sound, write)
        written = np.concatenate([written, np.zeros_like(sound) if silent else sound])
        wanted = np.zeros(read, np.float32)
        for place in range(read):
            here = got + place
            if len(written) - 8 <= here < len(written):
                wanted[place] = written[here]
        assert np.array_equal(tap.read(read), wanted)
        got += read
