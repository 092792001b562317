"""The matrix product against the definition: cosines, summed in float64."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from firmware.sound.phasors import ALONE, CHUNK, PARTIALS, Stack, Tables, each, powers, product, start_phasors

ROOT = Path(__file__).parents[3]
RATE = 48_000
HZ = np.array([27.5, 116.5409, 349.62, 1318.5])


def by_definition(states: np.ndarray, count: int) -> np.ndarray:
    """Sum of the partials of each tone, shape (tones, count)."""
    cycles = HZ[:, None, None] * np.arange(1, PARTIALS + 1)[:, None] * np.arange(count) / RATE
    return np.sum((states[:, :, None] * np.exp(2j * np.pi * cycles)).real, axis=1)


@pytest.fixture
def states() -> np.ndarray:
    """Arbitrary complex amplitudes, of which a few are nothing."""
    rng = np.random.default_rng(3)
    values = rng.standard_normal((4, 16)) + 1j * rng.standard_normal((4, 16))
    values[1, 5:] = 0
    return values


@pytest.mark.parametrize("count", [1, 7, 31, 32, 33, 100, 511, CHUNK])
def test_sum_and_single_tones_are_exact_to_float32(states: np.ndarray, count: int):
    tables = Tables.of(HZ, RATE)
    expected = by_definition(states, count)
    scale = np.abs(expected).max()
    assert each(tables, states, count) == pytest.approx(expected, abs=3e-6 * scale)
    total = Stack.of(tables, states).sound(np.ones((4, 16), complex), count)
    assert total.dtype == np.float32
    assert total == pytest.approx(expected.sum(axis=0), abs=3e-6 * np.abs(states).sum() / 4)


def test_the_error_is_noise_far_below_hearing(states: np.ndarray):
    expected = by_definition(states, CHUNK).sum(axis=0)
    error = Stack.of(Tables.of(HZ, RATE), states).sound(np.ones((4, 16), complex), CHUNK) - expected
    assert 20 * np.log10(np.std(error) / np.std(expected)) < -120


def test_powers_by_doubling_stay_on_the_unit_circle():
    base = np.exp(2j * np.pi * np.array([0.123456789, 0.49]))
    assert powers(base, 512)[:, -1] == pytest.approx(base**512, abs=1e-11)


def test_start_phasors_drop_whole_cycles_before_they_multiply():
    whole = start_phasors(np.array([2.0**31 + 0.25]))
    assert whole[0, 0] == pytest.approx(1j, abs=1e-12)
    assert whole[0, 15] == pytest.approx(1.0, abs=1e-11)


def test_no_tones_make_no_tables():
    assert Tables.of(np.zeros(0), RATE).fine.shape == (0, 32, 32)


@pytest.mark.parametrize("inner", [1, 255, 256, 257, 2048])
def test_a_product_in_pieces_is_the_product(inner: int):
    rng = np.random.default_rng(inner)
    left, right = (rng.standard_normal(shape).astype(np.float32) for shape in ((16, inner), (inner, 32)))
    assert product(left, right) == pytest.approx(left @ right, abs=1e-3)
    assert product(np.ones((ALONE, 2), np.float32), np.ones((2, 3), np.float32)).min() == 2.0, "even the widest"


BUSY = """
import time
import numpy as np
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
engine, silence = Engine(), np.zeros(512, np.float32)
sounds = [Sound(DroneSound(True, tuple(ToneSound(f * (n + 1)) for n in range(64)))) for f in (50.0, 51.0)]
def play(blocks):
    for block in range(blocks):
        engine.sound = sounds[block // 10 % 2]
        engine.process(silence)
play(100)
time.sleep(0.2)  # BLAS threads that were started turn idly for a while
mine, all_ = time.thread_time(), time.process_time()
play(1000)
mine, all_ = time.thread_time() - mine, time.process_time() - all_
print((all_ - mine) / mine)
"""


def test_no_other_thread_works_for_the_sound():
    """Processor time of the whole process against that of the thread that plays, with BLAS free to use four threads."""
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "4"}
    words = [sys.executable, "-c", BUSY]
    done = subprocess.run(words, cwd=ROOT, env=environment, check=True, capture_output=True, text=True)
    assert float(done.stdout) < 0.1
