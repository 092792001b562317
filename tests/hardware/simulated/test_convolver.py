"""Convolving block by block gives what convolving the whole gives."""

import numpy as np
import pytest
from scipy.signal import fftconvolve

from hardware.simulated.convolver import TAIL_BLOCKS, Convolver

BLOCK = 64


@pytest.mark.parametrize("taps", [1, 63, 64, 65, TAIL_BLOCKS * BLOCK, TAIL_BLOCKS * BLOCK + 1, 3000])
@pytest.mark.parametrize("inputs", [1, 2])
def test_it_equals_scipy_on_the_whole_sound(taps: int, inputs: int):
    # Source of the truth: scipy.signal.fftconvolve in double precision.
    generator = np.random.default_rng(taps)
    responses = generator.standard_normal((inputs, taps)).astype(np.float32)
    sound = generator.standard_normal((inputs, 70 * BLOCK)).astype(np.float32)
    convolver = Convolver(responses, BLOCK)
    blocks = [convolver.process(sound[:, at : at + BLOCK]) for at in range(0, sound.shape[1], BLOCK)]
    found = np.concatenate(blocks)
    truth = sum(fftconvolve(sound[k].astype(float), responses[k].astype(float)) for k in range(inputs))[: len(found)]
    assert found.dtype == np.float32
    assert np.abs(found - truth).max() < 1e-5 * np.abs(truth).max()  # -100 dB


def test_it_keeps_nothing_of_the_arrays_it_is_given():
    convolver = Convolver(np.ones((1, 2 * BLOCK), np.float32), BLOCK)
    block = np.ones((1, BLOCK), np.float32)
    convolver.process(block)
    block[:] = 1e6
    assert convolver.process(np.zeros((1, BLOCK), np.float32)).max() <= BLOCK * 1.001
