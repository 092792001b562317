"""The sounds of the pulse: at full level, different from each other, over in time."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.music.kit import SOUNDS
from firmware.sound.percussion import MAKERS, all_sounds, sound_of

RATE = 48_000


def centre_hz(sound: np.ndarray) -> float:
    """Centre of the power spectrum."""
    power = np.abs(np.fft.rfft(sound.astype(float), 1 << 15)) ** 2
    return float(np.sum(power * np.fft.rfftfreq(1 << 15, 1 / RATE)) / power.sum())


def test_every_sound_is_made_and_no_other() -> None:
    assert set(MAKERS) == set(SOUNDS) == set(all_sounds(RATE))


@pytest.mark.parametrize("name", SOUNDS)
@pytest.mark.parametrize("rate", [44_100, RATE])
def test_a_sound_peaks_at_full_scale_and_ends_in_silence(name: str, rate: int) -> None:
    sound = sound_of(name, rate)
    assert sound.dtype == np.float32
    assert np.abs(sound).max() == pytest.approx(1.0, abs=1e-6)
    assert np.abs(sound[-rate // 1000 :]).max() < 1e-3
    assert len(sound) <= 0.3 * rate


@pytest.mark.parametrize("name", SOUNDS)
def test_a_stroke_speaks_at_once(name: str) -> None:
    """A tenth of its peak within 1 ms, half of it within 6 ms: the sample of the stroke is the moment of the beat."""
    sound = np.abs(sound_of(name, RATE))
    assert sound[: RATE // 1000].max() > 0.1
    assert sound[: 6 * RATE // 1000].max() > 0.5


def test_low_and_high_are_heard_apart() -> None:
    hz = {name: centre_hz(sound_of(name, RATE)) for name in SOUNDS}
    assert hz["bass"] < hz["tom"] < hz["cut"] < hz["snare"]
    assert hz["block"] < hz["wood"]
    assert hz["low"] < hz["high"] < hz["tick"]
    assert hz["snare"] < hz["cymbal"]
    assert hz["bell"] < hz["shaker"]


def test_a_sound_is_the_same_every_time_and_unknown_ones_tick() -> None:
    assert sound_of("snare", RATE) is sound_of("snare", RATE)
    assert sound_of("?", RATE) is sound_of("tick", RATE)
    with pytest.raises(ValueError, match="read-only"):
        sound_of("tick", RATE)[0] = 1
