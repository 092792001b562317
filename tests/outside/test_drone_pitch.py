"""The drone's WAV read by estimators that know nothing of the engine: scipy's filters, windows and least squares.

Expected pitches come from published figures, not from our tables:

- just ratios 5/4 and 3/2 and their cents: Helmholtz, *On the Sensations of Tone*,
  tr. Ellis, appendix XX section D (386.314 cents for the major third, 701.955 for the fifth);
- A4 = 440 Hz: ISO 16:1975; equal semitones of 2^(1/12) with A4 = MIDI note 69: MIDI 1.0, MIDI Tuning Standard.

The tonic stands on its equal-tempered pitch (common practice for a just drone with the rest of the room tempered).
"""

from __future__ import annotations

import json
import math
from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import scipy.linalg
import scipy.signal
import soundfile

from hardware.commands import drone

RATE = 48_000
SECONDS = 9
Render = Callable[[str], tuple[np.ndarray, list[dict[str, float | str]]]]


@pytest.fixture
def render(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Render:
    """Run the command, return the samples of its WAV and the tones of its JSON."""

    def go(line: str) -> tuple[np.ndarray, list[dict[str, float | str]]]:
        parser = ArgumentParser()
        drone.add_arguments(parser)
        path = tmp_path / "drone.wav"
        words = [*line.split(), "--seconds", str(SECONDS), "--out", str(path), "--json"]
        assert drone.run(parser.parse_args(words)) == 0
        samples, rate = soundfile.read(path, dtype="float64")
        assert rate == RATE
        assert len(samples) == SECONDS * RATE
        return samples, json.loads(capsys.readouterr().out)["tones"]

    return go


def equal_hz(midi: int, a4: float = 440.0) -> float:
    return float(a4 * 2.0 ** ((midi - 69) / 12))


def measured_hz(samples: np.ndarray, near: float) -> float:
    """Frequency of the line near a guess, by the advance of its phase between two windows 4 s apart.

    Twice: the first, over 0.25 s, only removes the ambiguity of whole cycles. Side lobes of the 4-term Blackman-Harris
    window lie 92 dB down (Harris 1978).
    """
    guess = near
    for gap, length in ((RATE // 4, 2 * RATE), (4 * RATE, 4 * RATE)):
        window = scipy.signal.windows.blackmanharris(length, sym=False)
        carrier = np.exp(-2j * np.pi * guess * np.arange(length) / RATE)
        first, second = (np.sum(samples[at : at + length] * window * carrier) for at in (RATE // 2, RATE // 2 + gap))
        turns = np.angle(second / first * np.exp(-2j * np.pi * ((guess * gap / RATE) % 1.0))) / (2 * np.pi)
        guess += turns * RATE / gap
    return guess


def cents(hz: float, reference: float) -> float:
    return 1200 * math.log2(hz / reference)


def noise_db(samples: np.ndarray, tones: list[float], partials: int = 16) -> float:
    """Level of all that is not a partial of the tones, against the tones, in dB: 0.5 s, linear least squares."""
    part = samples[4 * RATE : 4 * RATE + RATE // 2]
    lines = sorted({round(hz * k, 6) for hz in tones for k in range(1, partials + 1) if hz * k < 20_000})
    phase = 2 * np.pi * np.outer(np.arange(len(part)) / RATE, lines)
    design = np.concatenate([np.cos(phase), np.sin(phase)], axis=1)
    fit = scipy.linalg.lstsq(design, part, lapack_driver="gelsy")[0]
    return float(20 * np.log10(np.std(part - design @ fit) / np.std(part)))


@pytest.mark.parametrize("timbre", ["plain", "flue", "reed", "horn", "bowed"])
def test_a_just_triad_is_exact_and_clean_in_every_timbre(render: Render, timbre: str):
    samples, tones = render(f"--tonic Bb --mode major --shape triad --octave 2 --tuning just --timbre {timbre}")
    root = equal_hz(46)
    expected = [root * ratio for ratio in (1, 5 / 4, 3 / 2, 2, 5 / 2, 3)]
    assert [tone["hz"] for tone in tones] == pytest.approx(expected, rel=1e-12)
    for hz in expected:
        assert cents(measured_hz(samples, hz * 1.0001), hz) == pytest.approx(0.0, abs=0.01)
    assert noise_db(samples, expected) < -95


def test_ellis_cents_can_be_read_off_the_sound(render: Render):
    samples, _ = render("--tonic Bb --mode major --shape triad --octaves 1")
    root, third, fifth = (measured_hz(samples, hz) for hz in (116.5, 145.7, 174.8))
    assert cents(third, root) == pytest.approx(386.314, abs=0.01)
    assert cents(fifth, root) == pytest.approx(701.955, abs=0.01)


def test_an_equal_seventh_chord_is_exact_and_clean(render: Render):
    """Tempered partials nearly coincide, which would show aliasing or intermodulation between them."""
    samples, tones = render("--tonic G --mode mixolydian --shape seventh --octaves 1 --tuning equal --timbre bowed")
    expected = [equal_hz(43 + step) for step in (0, 4, 7, 10)]
    assert [tone["hz"] for tone in tones] == pytest.approx(expected, rel=1e-12)
    for hz in expected:
        assert cents(measured_hz(samples, hz), hz) == pytest.approx(0.0, abs=0.01)
    assert noise_db(samples, expected) < -95


@pytest.mark.parametrize("a4", [415.0, 442.0])
def test_the_reference_pitch_moves_everything(render: Render, a4: float):
    samples, _ = render(f"--tonic A --shape fifth --octave 3 --octaves 1 --a4 {a4}")
    assert cents(measured_hz(samples, a4 / 2), a4 / 2) == pytest.approx(0.0, abs=0.01)
    assert cents(measured_hz(samples, a4 * 3 / 4), a4 * 3 / 4) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(("octave", "midi"), [(0, 22), (1, 34), (5, 82), (7, 106)])
def test_lowest_and_highest_octaves_are_as_exact_and_as_clean(render: Render, octave: int, midi: int):
    samples, _ = render(f"--shape unison --octave {octave} --timbre reed")
    hz = equal_hz(midi)
    line = hz if octave else 2 * hz  # B♭0: the second partial stands clear of the window's main lobe
    assert cents(measured_hz(samples, line), line) == pytest.approx(0.0, abs=0.01)
    assert noise_db(samples, [hz]) < -95


def test_the_measure_of_noise_sees_what_it_must(render: Render):
    """The same WAV with an alias 90 dB down, and one tone 0.01 cent off: both must show."""
    samples, _ = render("--shape unison --timbre reed")
    alias = 10 ** (-90 / 20) * np.std(samples) * math.sqrt(2)
    wrong = samples + alias * np.sin(2 * np.pi * 7321.0 * np.arange(len(samples)) / RATE)
    assert noise_db(samples, [equal_hz(46)]) < -95
    assert noise_db(wrong, [equal_hz(46)]) > -91
    assert noise_db(samples, [equal_hz(46) * 2 ** (0.01 / 1200)]) > -80
    assert abs(cents(measured_hz(samples, 116.5), equal_hz(46) * 2 ** (0.02 / 1200))) > 0.015


def test_levels_of_the_members_are_as_announced(render: Render):
    """Level of each fundamental by a flat-top window (scipy): third 3 dB and upper octave 3 dB down."""
    samples, tones = render("--shape triad --timbre plain --octaves 1 --tuning equal")
    window = scipy.signal.windows.flattop(RATE, sym=False)
    levels = []
    for tone in tones:
        line = np.exp(-2j * np.pi * float(tone["hz"]) * np.arange(RATE) / RATE)
        levels.append(20 * np.log10(abs(np.sum(samples[RATE : 2 * RATE] * window * line))))
    announced = [float(tone["level_db"]) for tone in tones]
    assert np.array(levels) - levels[0] == pytest.approx(np.array(announced) - announced[0], abs=0.1)
    assert announced[1] < announced[0]
