"""`keelnote hear --catch`: the tonic of a long note in the spelling of the mode, the key of a few bars, or nothing."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.units import RATE
from hardware.desk import main


def note(midi: int, seconds: float) -> np.ndarray:
    """One tone of eight partials with soft ends."""
    time = np.arange(round(seconds * RATE)) / RATE
    hz = 440.0 * 2 ** ((midi - 69) / 12)
    ends = np.minimum(1.0, 30 * np.minimum(time, seconds - time))
    return ends * sum(0.1 / n * np.sin(2 * np.pi * n * hz * time) for n in range(1, 9))


def heard(path: Path, sound: np.ndarray, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    soundfile.write(path / "x.wav", sound + 1e-4 * np.random.default_rng(1).standard_normal(len(sound)), RATE)
    assert main(["hear", str(path / "x.wav"), "--catch", *words]) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize(("mode", "tonic"), [("major", "B♭"), ("minor", "B♭"), ("lydian", "B♭"), ("locrian", "A♯")])
def test_one_long_note(mode: str, tonic: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = json.loads(heard(tmp_path, note(58, 1.5), capsys, "--json", "--mode", mode))
    assert (told["tonic"], told["mode"]) == (tonic, mode)
    assert told["confidence"] > 0.9
    assert set(told["second"]) == {"tonic", "mode", "confidence"}


def test_a_few_bars(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # Tonic, subdominant, dominant, tonic of E♭ major and of C minor: the plainest cadences there are.
    for tonic, mode, chords in (
        ("E♭", "major", ((51, 63, 67, 70), (56, 63, 68, 72), (58, 62, 65, 70), (51, 63, 67, 70))),
        ("C", "minor", ((48, 63, 67, 72), (53, 65, 68, 72), (55, 62, 67, 71), (48, 63, 67, 72))),
    ):
        sound = np.concatenate([sum(note(midi, 1.2) for midi in chord) for chord in chords])
        told = json.loads(heard(tmp_path, sound, capsys, "--json"))
        assert (told["tonic"], told["mode"]) == (tonic, mode)
        assert f"{tonic} {mode}" in heard(tmp_path, sound, capsys)
    assert "Do minor" in heard(tmp_path, sound, capsys, "--names", "fixed-do", "--tonic", "Do")


def test_nothing_to_catch(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = json.loads(heard(tmp_path, np.zeros(RATE), capsys, "--json"))
    assert told == {"tonic": None, "mode": None, "confidence": 0.0, "second": None}
    assert "no key" in heard(tmp_path, np.zeros(RATE), capsys)
