"""Takes of very different loudness leave the whole box equally loud, as pyloudnorm (ITU-R BS.1770-4) measures it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

from firmware.events import KeyDown, KeyUp, PanelKey
from firmware.parts.part import Start
from firmware.units import BLOCK, RATE, Samples
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.loop import OfflineLoop
from hardware.simulated.screen import SimulatedScreen

TARGET_LUFS = -23.0
"""EBU R 128's target, well under the limiter for music of any crest."""

TOLERANCE_LU = 0.1


def ensemble(level_db: float, seed: int) -> Samples:
    """Five seconds of chords and strokes, soft and loud, in a little noise."""
    rng = np.random.default_rng(seed)
    sound = rng.standard_normal(5 * RATE) * 1e-5
    for beat in range(10):
        t = np.arange(RATE // 2) / RATE
        root = 110.0 * 2 ** (rng.integers(0, 24) / 12)
        chord = sum(np.sin(2 * np.pi * root * ratio * t) for ratio in (1, 1.25, 1.5, 2, 3))
        sound[beat * RATE // 2 :][: len(t)] += np.asarray(chord) * rng.uniform(0.2, 1.0) * np.exp(-3 * t)
    return (sound * 10 ** (level_db / 20)).astype(np.float32)


def tap(loop: OfflineLoop, key: PanelKey) -> None:
    loop.post(KeyDown(loop.now, key))
    loop.post(KeyUp(loop.now, key))


def hear(loop: OfflineLoop, mic: Samples) -> Samples:
    return np.concatenate([loop.block(mic[at : at + BLOCK]) for at in range(0, len(mic), BLOCK)])


@pytest.mark.parametrize(("level_db", "seed"), [(-46.0, 1), (-14.0, 3)])
def test_a_replay_has_the_loudness_that_is_set(tmp_path: Path, level_db: float, seed: int) -> None:
    values = Start().values.put("preroll", 0).put("replay_level", TARGET_LUFS)
    loop = offline_box(FolderStick(tmp_path / "KEELNOTE"), SimulatedScreen(), Start(values=values, stick=True))
    hear(loop, np.zeros(RATE, np.float32))
    tap(loop, PanelKey.TAKE)
    hear(loop, ensemble(level_db, seed))
    tap(loop, PanelKey.TAKE)
    hear(loop, np.zeros(RATE // 2, np.float32))
    tap(loop, PanelKey.REPLAY)
    sound = hear(loop, np.zeros(5 * RATE + RATE // 4, np.float32))
    first = int(np.argmax(np.abs(sound) > 0))
    sound = sound[first : first + 5 * RATE]  # silence on either side would fall into the outermost blocks
    measured = pyloudnorm.Meter(RATE).integrated_loudness(sound.astype(np.float64))
    assert measured == pytest.approx(TARGET_LUFS, abs=TOLERANCE_LU)
    assert np.abs(sound).max() <= 10 ** (-1 / 20)
