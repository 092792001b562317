"""Onsets of sampled instruments at known samples, with the box's own click as loud in the microphone.

Outside source: FluidSynth with the FluidR3 GM soundfont of Debian (packages fluidsynth and fluid-soundfont-gm). The
truth is measured on each note alone by the definition in `firmware.hearing.onsets_attack`. F-measure as in MIREX:
onsets are matched one to one within 50 ms (here each note is further than that from its neighbours).
"""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from firmware.hearing.onsets import Onsets
from firmware.units import RATE
from tests.speed.onset_scenes import SOUNDFONT, Scene, sampled, scene, strokes

needed = pytest.mark.skipif(not SOUNDFONT.exists() or shutil.which("fluidsynth") is None, reason="needs FluidSynth")


def score(one: Scene) -> tuple[float, np.ndarray]:
    """F-measure at 50 ms, and the distances of the onsets that were found, in ms."""
    onsets, silence = Onsets(), np.zeros(RATE, np.float32)
    found = list(onsets.process(one.mic, one.own)) + list(onsets.process(silence, silence))
    times = np.array([onset.at for onset in found if onset.at < len(one.mic) - 512])
    off = np.array([times[np.abs(times - true).argmin()] - true for true in one.truth]) * 1000 / RATE
    near = np.abs(off[np.abs(off) <= 50])
    return 2 * len(near) / (len(one.truth) + len(times)), near


def test_synthetic_strokes():
    f_measure, off = score(scene(strokes(np.random.default_rng(1)), 7, click=True, beats=20))
    assert f_measure >= 0.97
    assert np.median(off) <= 0.5
    assert np.percentile(off, 95) <= 2.0


@needed
@pytest.mark.soundfont
@pytest.mark.parametrize("name", ["snare", "trumpet"])
def test_sampled_instruments(name: str):
    f_measure, off = score(scene(sampled(name), 7, click=True, beats=20))
    assert f_measure >= 0.97
    assert np.median(off) <= 3.0
    assert np.percentile(off, 95) <= 10.0
