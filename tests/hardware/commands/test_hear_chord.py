"""`keelnote hear --chord`: one object for the chord that is held longest, with and without the box's own sound."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.units import RATE, ratio_of
from hardware.desk import main

ROOT = 233.081881
"""B♭3 in equal temperament from A4 = 440 Hz (MIDI 58)."""


def chord(seconds: float, cents: tuple[float, float, float]) -> np.ndarray:
    """A just triad of sawtooth-like tones, each degree off by some cents, a little noise under it."""
    time = np.arange(round(seconds * RATE)) / RATE
    sound = 1e-4 * np.random.default_rng(3).standard_normal(len(time))
    for ratio, off in zip((1, 5 / 4, 3 / 2), cents, strict=True):
        for number in range(1, 13):
            sound += 0.05 / number * np.sin(2 * np.pi * number * ROOT * ratio * ratio_of(off) * time + number**2)
    return sound


def write(path: Path, sound: np.ndarray) -> str:
    soundfile.write(path, sound, RATE, subtype="PCM_24")
    return str(path)


def test_one_object_names_the_chord_and_its_degrees(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = write(tmp_path / "chord.wav", chord(1.6, (0.0, 9.0, -4.0)))
    assert main(["hear", file, "--tonic", "Bb", "--chord", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["chord"], told["degree"]) == ("B♭ major", "1")
    assert [(one["degree"], one["note"], one["accepted"], one["why"]) for one in told["degrees"]] == [
        ("1", "B♭", True, ""),
        ("3", "D", True, ""),
        ("5", "F", True, ""),
    ]
    assert [one["cents"] for one in told["degrees"]] == pytest.approx([0.0, 9.0, -4.0], abs=0.2)
    assert {one["level"] for one in told["degrees"]} == {"even"}
    assert main(["hear", file, "--tonic", "Bb", "--chord"]) == 0
    assert "B♭ major, on degree 1" in capsys.readouterr().out


def test_a_told_chord_is_read_as_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = write(tmp_path / "chord.wav", chord(1.6, (0.0, 0.0, 0.0)))
    assert main(["hear", file, "--tonic", "Eb", "--chord", "--degree", "5", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["chord"], [one["degree"] for one in told["degrees"]]) == ("B♭ major", ["5", "7", "2"])
    assert main(["hear", file, "--chord", "--degree", "x"]) == 2
    assert main(["hear", file, "--chord", "--degree", "5", "--shape", "x"]) == 2


def test_no_chord_is_said_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = write(tmp_path / "short.wav", chord(0.4, (0.0, 0.0, 0.0)))
    assert main(["hear", file, "--chord", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["chord"] is None
    assert main(["hear", file, "--chord"]) == 0
    assert "no chord" in capsys.readouterr().out


def test_our_own_sound_is_taken_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drone = chord(6.0, (0.0, 0.0, 0.0))
    players = np.concatenate([np.zeros(4 * RATE), chord(2.0, (0.0, 12.0, -6.0))])
    mic = write(tmp_path / "mic.wav", 0.6 * players + 1.2 * np.roll(drone, 500))
    own = write(tmp_path / "own.wav", drone)
    assert main(["hear", mic, "--own", own, "--tonic", "Bb", "--chord", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["t"] == pytest.approx(4.0, abs=0.1)
    assert [one["cents"] for one in told["degrees"]] == pytest.approx([0.0, 12.0, -6.0], abs=0.3)
