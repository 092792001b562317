"""A section is told from one player, with its centre and spread."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.heard_events import Heard
from firmware.hearing.ear import Ear
from firmware.hearing.section import LENGTH, SectionWatch, read_section
from firmware.units import RATE

SLOW = 12_000.0


def together(hz: float, cents: tuple[float, ...], rate: float, seconds: float, vibrato: float = 0.0) -> np.ndarray:
    """Players on one note, so many cents off it, in a little noise."""
    rng = np.random.default_rng(len(cents))
    time = np.arange(int(seconds * rate)) / rate
    sound = 1e-3 * rng.standard_normal(len(time))
    for off in cents:
        track = off + vibrato * np.sin(2 * np.pi * rng.uniform(5, 6) * time + rng.uniform(0, 7))
        phase = 2 * np.pi * hz / rate * np.cumsum(2 ** (track / 1200))
        sound += sum(np.cos(k * phase + rng.uniform(0, 7)) / k for k in range(1, min(16, int(rate / 2.2 / hz)) + 1))
    return 0.1 * sound / len(cents)


def last(mic: np.ndarray) -> list[Heard]:
    """Readings of the last half second."""
    readings = Ear().process(mic.astype(np.float32), np.zeros(len(mic), np.float32))
    return list(readings[-12:])


def test_lines_that_stand_give_their_mean_and_deviation():
    cents = (-9.0, -3.0, 4.0, 8.0)
    found = read_section(together(440.0, cents, SLOW, 1.3), 441.0, SLOW)
    assert found is not None
    off = 1200 * np.log2(441 / 440)
    assert found.centre + off == pytest.approx(np.mean(cents), abs=1.0)
    assert found.cents == pytest.approx(np.std(cents), rel=0.2)


def test_one_line_has_no_spread_and_silence_no_section():
    found = read_section(together(440.0, (0.0,), SLOW, 1.3), 440.2, SLOW)
    assert found is not None
    assert found.cents < 0.3
    assert read_section(np.zeros(LENGTH), 440.0, SLOW) is None


def test_a_section_is_read_as_its_centre_with_a_spread():
    cents = (-12.0, -4.0, 5.0, 11.0)
    for one in last(together(233.08, cents, RATE, 2.6, vibrato=6.0)):
        assert one.spread == pytest.approx(np.hypot(np.std(cents), 6 / np.sqrt(2)), rel=0.3)
        assert 1200 * np.log2((one.hz or 1) / 233.08) == pytest.approx(0, abs=4)


@pytest.mark.parametrize("vibrato", [0.0, 25.0])
def test_one_player_is_no_section(vibrato: float):
    assert all(one.spread is None and one.hz for one in last(together(233.08, (3.0,), RATE, 2.2, vibrato=vibrato)))


def test_nothing_is_told_while_the_box_sounds_and_a_new_note_ends_it():
    sound = together(311.0, (-10.0, 0.0, 10.0), SLOW, 2.0)
    alone, beside, moved = SectionWatch(SLOW), SectionWatch(SLOW), SectionWatch(SLOW)
    for hop in range(len(sound) // 480):
        heard = Heard(hop * 1920, 311.0 * 2 ** (np.sin(hop) / 1200), 0.8, -20.0)
        bright = sound[hop * 480 : (hop + 1) * 480]
        section = alone.hear(bright, heard, alone=True)
        moved.hear(bright, heard, alone=True)
        assert beside.hear(bright, heard, alone=False) is heard
    assert section.spread is not None
    other = Heard(0, 400.0, 0.9, -20.0)
    assert moved.hear(sound[:480], other, alone=True) is other
    assert moved.hear(sound[:480], heard, alone=True).spread is None
