"""A note that began a moment ago is read in all of it that has sounded, and in no more."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.harmonic import Window
from firmware.hearing.pitch_spectrum import partials_of
from firmware.hearing.pitch_windows import Pitch
from firmware.hearing.pitch_young import grown

RATE = 12_000.0
WHOLE = 1856


def begun(hz: float, sounded: int, noise: float, seed: int, *, swell: float = 0.0) -> np.ndarray:
    """White noise, in which a tone of 1/k partials has sounded for so many samples; it grew by `swell` in them."""
    rng = np.random.default_rng(seed)
    time = np.arange(sounded)
    partials = range(1, partials_of(hz) + 1)
    tone = sum(np.cos(2 * np.pi * k * hz / RATE * time + rng.uniform(0, 7)) / k for k in partials)
    tone = np.asarray(tone) * (1 - swell * (1 - time / sounded))
    return np.concatenate([np.zeros(WHOLE - sounded), tone]) + noise * rng.standard_normal(WHOLE)


def read(sound: np.ndarray, hz: float, length: int) -> Pitch:
    """A reading in a window of one of the ear's lengths."""
    window = Window(sound[-length:])
    fit = window.refine(2 * np.pi * hz / RATE, partials_of(hz), 2)
    return Pitch(fit.omega * RATE / (2 * np.pi), 0.9, length, fit.power, window.error(fit))


@pytest.mark.parametrize("hz", [85.0, 220.0, 1500.0])
@pytest.mark.parametrize(("length", "sounded"), [(464, 700), (928, 1010), (928, 1500)])
def test_the_window_ends_where_the_note_began(hz: float, length: int, sounded: int):
    lengths, before, after = [], [], []
    for seed in range(8):
        sound = begun(hz, sounded, 0.1, seed)
        pitch = read(sound, hz, length)
        whole = grown(pitch, sound, RATE)
        assert whole.error <= pitch.error
        lengths.append(whole.length)
        before.append(pitch.hz / hz - 1)
        after.append(whole.hz / hz - 1)
    # A piece of a note that happens to be weaker in noise may end the window early, but never may it hold too much.
    assert max(lengths) <= 1.03 * sounded
    assert np.median(lengths) >= 0.9 * sounded
    assert np.std(after) < np.std(before)


def test_a_note_that_grows_is_read_in_the_window_that_suited_it():
    for seed in range(4):
        sound = begun(220.0, 1800, 0.02, seed, swell=0.9)
        assert grown(read(sound, 220.0, 464), sound, RATE).length < 700


def test_it_reads_nothing_else_than_what_was_read():
    sound = begun(220.0, 1400, 0.05, 1)
    elsewhere = Pitch(224.0, 0.9, 928, np.ones(22), 1e-6)
    assert grown(elsewhere, sound, RATE) is elsewhere
