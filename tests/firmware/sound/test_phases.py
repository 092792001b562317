"""Phases of new tones: heard as slides that don't waver and chords that come back unchanged."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from firmware.sound.engine import Engine
from firmware.sound.phases import MEMORY, NEAR, Phases
from firmware.sound.snapshot import Sound
from firmware.sound.timbres import timbre_named
from firmware.sound.voices import Voices
from firmware.units import Samples

JUST = tuple(116.5409 * ratio for ratio in (1.0, 1.25, 1.5, 2.0, 2.5, 3.0))
EQUAL = tuple(116.5409 * 2 ** (step / 12) for step in (0, 4, 7, 12, 16, 19))


def played(run: Callable[..., Samples], *sounds: Sound) -> Samples:
    """Hold each sound for a third of a second and return the last third."""
    engine = Engine()
    for sound in sounds:
        engine.sound = sound
        samples = run(engine, 31 * 512)
    return samples[-8192:]


def voices_at(*hz: float) -> Voices:
    voices = Voices(48_000)
    voices.add(np.array(hz), timbre_named("reed"), (np.zeros(len(hz)), np.zeros(len(hz), dtype=np.int64)))
    voices.gains.aim(np.ones(len(hz)), 0, 0)
    return voices


def test_after_compare_the_chord_is_exactly_what_it_was(run: Callable[..., Samples], holding: Callable[..., Sound]):
    just, equal = holding(*JUST, timbre="reed"), holding(*EQUAL, timbre="reed")
    assert played(run, just, equal, just) == pytest.approx(played(run, just, just, just), abs=1e-6)


def test_without_such_a_memory_it_would_not_be(run: Callable[..., Samples], holding: Callable[..., Sound]):
    """The same chord reached by a slide alone: its coinciding partials are out of step, and it sounds different."""
    slid, just = holding(*EQUAL, timbre="reed"), holding(*JUST, timbre="reed")
    assert np.abs(played(run, slid, slid, just) - played(run, just, just, just)).max() > 0.05


def test_a_new_tone_near_a_leaving_one_takes_over_its_phase():
    voices, phases = voices_at(100.0, 200.0), Phases()
    cycle, origin = phases.choose(np.array([200.0 * NEAR * 0.999, 150.0]), voices, np.array([False, True]), 1001)
    assert cycle == pytest.approx([200.0 * 1001 / 48_000, 0.0])
    assert origin.tolist() == [1001, 0]


def test_a_tone_that_stays_or_has_long_been_leaving_lends_no_phase():
    voices, phases = voices_at(100.0, 200.0), Phases()
    voices.gains.aim(np.array([1.0, 0.0]), 0, 1000)
    assert phases.choose(np.array([200.1, 100.1]), voices, np.array([False, True]), 500)[1].tolist() == [0, 0]


def test_a_new_timbre_keeps_even_a_phase_that_is_not_at_home():
    voices, phases = Voices(48_000), Phases()
    voices.add(np.array([100.0]), timbre_named("reed"), (np.array([0.25]), np.array([777])))
    voices.gains.aim(np.ones(1), 0, 0)
    cycle, origin = phases.choose(np.array([100.0]), voices, np.array([True]), 5000)
    assert (cycle[0], origin[0]) == (0.25, 777)


def test_the_memory_is_bounded():
    phases = Phases()
    for number in range(3 * MEMORY):
        phases.choose(np.array([100.0 + number]), Voices(48_000), np.zeros(0, dtype=bool), 0)
    assert len(phases._home) == MEMORY
