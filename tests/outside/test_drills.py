"""Drills against sources from outside.

Sources: Helmholtz, On the Sensations of Tone, tr. Ellis (beats are the difference of the partials that should coincide;
just third 386.31 cents); tuners' common practice for the beats of equal thirds (F3-A3 about 7 a second); scipy.stats
for exact binomial intervals and distribution-free intervals of a median.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal, stats

from firmware.drills._chords import degree_tone, roots, setting_of
from firmware.drills.course import begun
from firmware.drills.drill import Phase, Task
from firmware.drills.settle import SETTLE
from firmware.drills.which import WHICH
from firmware.music.beating import beats_of
from firmware.music.harmony import Harmony
from firmware.music.intervals import Interval
from firmware.music.keys import key_of
from firmware.sheet.chances import guessed, middle_interval, share_interval
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import BLOCK, RATE, cents_of

EQUAL_THIRD = 400.0 - 386.3137
"""Common practice: an equal major third is 13.7 cents wide."""


@pytest.mark.parametrize(
    ("note", "hz", "beats"),
    # Beats of equal major thirds in the temperament octave as tuners give them, to a tenth.
    [("F3", 174.614, 6.9), ("G3", 195.998, 7.8), ("A3", 220.0, 8.7), ("C4", 261.626, 10.4)],
)
def test_an_equal_third_beats_as_tuners_count_it(note: str, hz: float, beats: float):
    assert beats_of(hz, Interval.of("5/4"), EQUAL_THIRD) == pytest.approx(beats, abs=0.05), note


def test_an_equal_fifth_beats_slowly():
    """Tuners' common practice: the fifth A3-E4 beats about three times in four seconds."""
    assert beats_of(220.0, Interval.of("3/2"), 700.0 - 701.955) == pytest.approx(0.74, abs=0.01)


def sounded(tones: tuple[tuple[float, float], ...], seconds: float) -> np.ndarray:
    engine = Engine()
    sounds = tuple(ToneSound(hz, level) for hz, level in tones)
    engine.sound = Sound(drone=DroneSound(on=True, tones=sounds, timbre="reed", level_db=-12.0))
    mic = np.zeros(BLOCK, np.float32)
    blocks = [engine.process(mic) for _ in range(round((seconds + 0.5) * RATE / BLOCK))]
    return np.concatenate(blocks)[RATE // 2 :].astype(np.float64)


def beats_heard(sound: np.ndarray, hz: float) -> float:
    """Beats per second of the partials near a frequency, by the envelope of what a band of 60 Hz lets through."""
    band = signal.butter(3, [hz - 30.0, hz + 30.0], "bandpass", fs=RATE, output="sos")
    envelope = np.abs(signal.hilbert(signal.sosfiltfilt(band, sound)))[RATE // 2 : -RATE // 2 : 480]
    envelope = envelope - envelope.mean()
    spectrum = np.abs(np.fft.rfft(envelope * np.hanning(len(envelope)), 1 << 16))
    return float(np.argmax(spectrum[100:]) + 100) * 100.0 / (1 << 16)


@pytest.mark.parametrize("cents", [-14.0, 9.0, 25.0])
def test_what_the_box_tells_is_what_sounds(cents: float):
    """The beats that the drill tells are in the sound of the loudspeaker, where scipy's filters find them."""
    task = Task(Harmony(key_of("Bb")), 1)
    lowest = roots(task.harmony)[0][0]
    tones = (roots(task.harmony)[0], degree_tone(task, 4, cents))
    told = beats_of(lowest, Interval.of("5/2"), cents)
    assert beats_heard(sounded(tones, 8.0), 5 * lowest) == pytest.approx(told, rel=0.03)


def test_a_slid_degree_is_exact_to_a_hundredth_of_a_cent():
    """Frequency of the sliding tone in the loudspeaker, by the phase that it gains in two seconds."""
    task = Task(Harmony(key_of("Bb")), 1)
    for cents in (-37.4, 0.0, 0.1, 22.0):
        hz, level = degree_tone(task, 4, cents)
        sound = sounded(((hz, level),), 3.0)
        carrier = np.exp(-2j * np.pi * hz * np.arange(len(sound)) / RATE)
        window = np.hanning(RATE)
        early, late = (np.sum(sound[at : at + RATE] * window * carrier[at : at + RATE]) for at in (0, 2 * RATE - 4800))
        turned = np.angle(late / early) / (2 * np.pi)
        found = hz + turned * RATE / (2 * RATE - 4800)
        assert cents_of(found / 116.5409404) == pytest.approx(1200 + 386.31371 + cents, abs=0.01)
    assert len(setting_of(task)) == 3


def test_sliding_leaves_the_root_alone_and_makes_no_click():
    """Above the highest partial nothing: a click would be heard there (engine's criterion, -60 dB of full scale)."""
    run = begun(SETTLE, Task(Harmony(key_of("Bb")), 5), 0)
    engine, mic, out = Engine(), np.zeros(BLOCK, np.float32), []
    for block in range(300):
        value = run.value - (block // 3) * np.sign(run.value) if block > 60 else run.value
        tones = tuple(ToneSound(*tone) for tone in (*setting_of(run.task), degree_tone(run.task, 4, float(value))))
        engine.sound = Sound(drone=DroneSound(on=True, tones=tones, timbre="plain", level_db=-6.0))
        out.append(engine.process(mic))
    sound = np.concatenate(out)[60 * BLOCK :].astype(np.float64)
    high = signal.sosfiltfilt(signal.butter(8, 14_000.0, "highpass", fs=RATE, output="sos"), sound)
    assert 20 * np.log10(np.abs(high[2000:-2000]).max()) < -60.0


def test_just_and_equal_lie_apart_as_published():
    """Third 13.69 cents, fifth 1.955 (Helmholtz, tr. Ellis, app. XX); the root is the same tone."""
    run = begun(WHICH, Task(Harmony(key_of("C")), 1), 0)
    sounds = {}
    for one in run.asked:
        place = run.asked.index(one)
        asked = type(run)(run.drill, run.task, run.asked, place=place, phase=Phase.OPEN)
        sounds[one.begins] = [hz for hz, _ in WHICH.tones(asked)][:3]
    off = [cents_of(a / b) for a, b in zip(sounds[0.0], sounds[1.0], strict=True)]
    assert off == pytest.approx([0.0, 13.686, -1.955], abs=0.01)


@pytest.mark.parametrize("count", [1, 2, 6, 12, 24, 40])
def test_shares_have_the_exact_interval_of_scipy(count: int):
    for right in range(count + 1):
        test = stats.binomtest(right, count, 0.5, alternative="two-sided")
        expected = test.proportion_ci(confidence_level=0.95, method="exact")
        assert share_interval(right, count) == pytest.approx((expected.low, expected.high), abs=1e-9)
        greater = stats.binomtest(right, count, 0.5, alternative="greater").pvalue
        assert guessed(right, count) == pytest.approx(greater, rel=1e-9)


@pytest.mark.parametrize("count", [3, 5, 6, 7, 8, 9, 12, 17, 24])
def test_middles_have_the_distribution_free_interval_of_scipy(count: int):
    values = np.sort(np.random.default_rng(count).normal(0, 9, count))
    expected = stats.quantile_test(values, q=0.0, p=0.5).confidence_interval(confidence_level=0.95)
    found = middle_interval(list(values))
    if np.isnan([expected.low, expected.high]).any():
        assert found is None
    else:
        assert found == (pytest.approx(expected.low), pytest.approx(expected.high))


def test_whoever_guesses_is_right_half_the_time_whatever_they_say():
    """Rounds are drawn each for itself: always saying "just" gives a binomial count, by scipy's chi-square."""
    counts = np.zeros(13)
    for seed in range(2000):
        asked = begun(WHICH, Task(Harmony(key_of("C")), seed), 0).asked
        counts[sum(one.begins == 1.0 for one in asked)] += 1
    expected = stats.binom.pmf(np.arange(13), 12, 0.5) * 2000
    joined = [counts[:3].sum(), *counts[3:10], counts[10:].sum()]
    wanted = [expected[:3].sum(), *expected[3:10], expected[10:].sum()]
    assert stats.chisquare(joined, wanted).pvalue > 0.001
