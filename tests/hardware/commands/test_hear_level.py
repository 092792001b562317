"""`keelnote hear --level`: a recording's level, dose, hum and clipping as one object."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf

from firmware.units import RATE
from hardware.desk import BAD_INPUT, main


def recorded(path: Path, sound: np.ndarray) -> str:
    sf.write(path, sound, RATE, subtype="PCM_24")
    return str(path)


def level_of(file: str, capsys: pytest.CaptureFixture[str], *more: str) -> Any:  # noqa: ANN401 - whatever JSON holds
    assert main(["hear", file, "--level", "--json", *more]) == 0
    return json.loads(capsys.readouterr().out)


def tone(seconds: float, peak: float) -> np.ndarray:
    return peak * np.sin(2 * np.pi * 1000.0 * np.arange(round(seconds * RATE)) / RATE)


def test_an_uncalibrated_level_has_no_dose(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = level_of(recorded(tmp_path / "a.wav", tone(3.0, 0.1)), capsys)
    assert found["calibrated"] is False
    assert found["dose_percent"] is None
    assert found["average_8h"] is None
    assert found["mean"] == pytest.approx(-23.0, abs=0.1)
    assert found["clipped_seconds"] == 0.0
    assert (found["hum_hz"], found["gain_rides"]) == (None, False)
    assert "not a sound level meter" in found["caution"]
    assert [row["t"] for row in found["levels"]] == [0.5, 1.0, 1.5, 2.0, 2.5, 3.0]


def test_a_calibrated_one_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = recorded(tmp_path / "a.wav", tone(36.0, 0.1))
    found = level_of(file, capsys, "--level-offset", "123")
    assert found["unit"] == "dB(A)"
    # 100 dB(A) may be borne for 15 minutes (NIOSH 98-126, table 1-1): 36 s are 4 per cent.
    assert found["mean"] == pytest.approx(100.0, abs=0.05)
    assert found["dose_percent"] == pytest.approx(4.0, rel=0.02)
    assert found["levels"][-1]["slow"] == pytest.approx(100.0, abs=0.05)


def test_clipping_and_hum_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    time = np.arange(10 * RATE) / RATE
    hum = 0.01 * (np.sin(2 * np.pi * 60 * time) + np.sin(2 * np.pi * 180 * time))
    sound = hum + np.concatenate([tone(8.0, 0.05), np.clip(tone(2.0, 2.0), -1, 1)])
    found = level_of(recorded(tmp_path / "a.wav", np.clip(sound, -1, 1)), capsys)
    assert found["hum_hz"] == 60.0
    assert found["clipped_seconds"] == pytest.approx(2.0, abs=0.11)


def test_a_table_for_people(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = recorded(tmp_path / "a.wav", tone(1.0, 0.1))
    assert main(["hear", file, "--level", "--level-offset", "0"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 4
    assert "calibrated False" in lines[-1]


def test_an_offset_out_of_range_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = recorded(tmp_path / "a.wav", tone(0.5, 0.1))
    assert main(["hear", file, "--level", "--level-offset", "500"]) == BAD_INPUT
    assert "0 to 160" in capsys.readouterr().err


def test_an_empty_recording_has_no_level(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = level_of(recorded(tmp_path / "a.wav", np.zeros(100)), capsys)
    assert found["levels"] == []
    assert found["seconds"] == 0.0
