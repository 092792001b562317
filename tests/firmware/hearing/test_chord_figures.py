"""The figures that a chord check must reach, on a few chords of virtual players in a room; the benchmark has sixty."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.chord_find import chord_of
from tests.speed.chord import last_reading
from tests.speed.chord_scenes import chord_scene


@pytest.mark.parametrize(
    ("how", "least"),
    [({}, 0.95), ({"drone_db": 6.0}, 0.95), ({"octaves": 3}, 0.7)],
    ids=["root position", "over the drone", "octaves unknown"],
)
def test_cents_and_acceptance(how: dict[str, float], least: float) -> None:
    errors: list[float] = []
    count = 8
    for seed in range(count):
        scene = chord_scene(seed, **how)
        read = last_reading(scene, told=True)
        assert read is not None
        pairs = zip(read.degrees, scene.cents, strict=True)
        errors += [abs(degree.cents - truth) for degree, truth in pairs if degree.cents is not None]
    assert len(errors) >= least * 3 * count
    assert np.median(errors) <= 0.8
    assert np.quantile(errors, 0.95) <= 2.6


def test_a_chord_in_root_position_is_named() -> None:
    for seed in range(6):
        scene = chord_scene(seed, sevenths=0.34)
        read = last_reading(scene, told=False)
        assert read is not None
        assert read.chord == chord_of(scene.harmony).name
