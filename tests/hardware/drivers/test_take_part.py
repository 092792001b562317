"""A part is known again by the microphone's first samples, as 24 bits hold them."""

from __future__ import annotations

import numpy as np

from hardware.drivers.take_part import PRINT, mark_of


def test_the_mark_is_that_of_the_first_samples_of_the_microphone() -> None:
    sound = (np.random.default_rng(1).integers(-(2**23), 2**23, 5000) / 2**23).astype(np.float32)
    mark = mark_of(sound)
    assert mark == mark_of(sound[:PRINT])
    assert mark == mark_of(np.column_stack((sound, -sound)))
    assert mark == mark_of(sound + np.float32(2**-26)), "less than half a step of 24 bits does not count"
    other = sound.copy()
    other[PRINT - 1] += 2**-23
    assert mark != mark_of(other)
