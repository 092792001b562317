"""`keelnote hear --room`: a recorded room check."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from firmware.sound.sweep import sweep
from firmware.units import RATE
from hardware.desk import BAD_INPUT, main


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    """A test signal, and a microphone that hears it 20 dB down and 2400 samples later, in noise."""
    own = np.concatenate([np.zeros(RATE), np.tile(sweep(), 2) * 0.1, np.zeros(RATE)])
    mic = np.roll(own, 2400) * 0.1 + np.random.default_rng(1).standard_normal(len(own)) * 1e-4
    names = str(tmp_path / "mic.wav"), str(tmp_path / "own.wav")
    for name, sound in zip(names, (mic, own), strict=True):
        sf.write(name, sound, RATE, subtype="PCM_24")
    return names


def test_it_prints_one_object(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hear", files[0], "--room", files[1], "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["delay_samples"] == pytest.approx(2400, abs=0.5)
    assert found["delay_ms"] == pytest.approx(50.0, abs=0.02)
    assert found["level_db"] == pytest.approx(-20.0, abs=0.2)
    assert found["clock_ppm"] == pytest.approx(0.0, abs=0.05)
    assert found["floor_plain_db"] == pytest.approx(-80.0, abs=0.3)
    assert found["clipped"] is False
    assert [row["hz"] for row in found["response"]] == [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0]
    assert all(row["db"] == pytest.approx(-20.0, abs=0.5) for row in found["response"])


def test_a_table_for_people(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hear", files[0], "--room", files[1]]) == 0
    assert "delay_samples" in capsys.readouterr().out


def test_what_is_no_room_check_is_refused(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hear", files[1], "--room", files[0].replace("mic", "own"), "--json"]) == 0
    capsys.readouterr()
    flat = files[0].replace("mic", "flat")
    sf.write(flat, np.zeros(5 * RATE), RATE)
    assert main(["hear", flat, "--room", files[1]]) == BAD_INPUT
    assert "stand out" in capsys.readouterr().err
    assert main(["hear", files[0], "--room", flat]) == BAD_INPUT
    assert "played twice" in capsys.readouterr().err
