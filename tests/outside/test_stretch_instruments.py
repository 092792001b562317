"""Sampled strokes at half speed begin on time and as sharply as they were played.

Outside source: FluidSynth with the FluidR3 GM soundfont of Debian (packages fluidsynth and fluid-soundfont-gm).
"""

from __future__ import annotations

import shutil

import pytest

from tests.speed.onset_scenes import SOUNDFONT
from tests.speed.stretch import SLOT, attacks, notes_of, ours

needed = pytest.mark.skipif(not SOUNDFONT.exists() or shutil.which("fluidsynth") is None, reason="needs FluidSynth")


@needed
@pytest.mark.soundfont
@pytest.mark.parametrize("name", ["piano", "xylophone", "snare"])
def test_attacks_of_sampled_instruments_are_kept(name: str) -> None:
    before = notes_of(name)[: 6 * SLOT]
    found = attacks(before, ours(before))
    assert len(before) >= 4 * SLOT
    assert found["off_p95_ms"] <= 2.5
    assert found["smear_p95_ms"] <= 1.0
    assert found["early_db"] <= -60.0
    assert found["louder_db"] == pytest.approx(0.0, abs=0.5)
