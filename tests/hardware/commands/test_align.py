"""`keelnote align`: onsets of a recording against a pulse, as JSON and as a table, and what it refuses."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from firmware.errors import BadFileError, KeelnoteError, OutOfRangeError
from hardware.commands import align

RATE = 48_000
BEAT = 60.0 / 100.0
DELAY = 1_900
Call = Callable[..., str]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run the command with some words and return what it printed."""

    def go(*words: str) -> str:
        parser = ArgumentParser()
        align.add_arguments(parser)
        assert align.run(parser.parse_args(words)) == 0
        return capsys.readouterr().out

    return go


def struck(places: np.ndarray, seconds: float, hz: float, fall: float) -> np.ndarray:
    sound = np.zeros(round(seconds * RATE))
    time = np.arange(RATE // 5) / RATE
    for place in places:
        sound[round(place * RATE) :][: len(time)] += 0.2 * np.cos(2 * np.pi * hz * time) * np.exp(-time / fall)
    return sound


@pytest.fixture(scope="module")
def late() -> np.ndarray:
    """How late 24 notes are, in seconds."""
    return np.random.default_rng(8).normal(-0.012, 0.01, 24)


@pytest.fixture(scope="module")
def files(late: np.ndarray, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Microphone and own sound of eight bars at 100; two bars are counted in, the rest is played, 40 ms of delay."""
    folder = tmp_path_factory.mktemp("align")
    own = struck(0.5 + BEAT * np.arange(32), 21.0, 1400.0, 0.006)
    mic = struck(0.5 + BEAT * np.arange(8, 32) + late + DELAY / RATE, 21.0, 620.0, 0.05)
    mic[DELAY:] += own[:-DELAY]
    mic += 3e-4 * np.random.default_rng(9).standard_normal(len(mic))
    for name, sound in (("mic.wav", mic), ("own.wav", own)):
        soundfile.write(folder / name, sound, RATE)
    return str(folder / "mic.wav"), str(folder / "own.wav")


def result(printed: str) -> dict[str, Any]:
    assert printed.count("\n") == 1
    return json.loads(printed)


def test_json_has_every_onset_and_what_they_come_to(call: Call, files: tuple[str, str], late: np.ndarray):
    mic, own = files
    told = result(call(mic, "--tempo", "100", "--meter", "4/4", "--own", own, "--json"))
    assert list(told)[:4] == ["onsets", "median_ms", "spread_ms", "drift_percent"]
    assert [list(one) for one in told["onsets"]] == [["time", "bar", "beat", "ms"]] * 24
    assert [(one["bar"], one["beat"]) for one in told["onsets"]] == [(3 + n // 4, 1 + n % 4) for n in range(24)]
    np.testing.assert_allclose([one["ms"] for one in told["onsets"]], 1000 * late, atol=0.6)
    times = 0.5 + BEAT * np.arange(8, 32) + late + DELAY / RATE
    np.testing.assert_allclose([one["time"] for one in told["onsets"]], times, atol=0.0006)
    assert told["median_ms"] == pytest.approx(1000 * np.median(late), abs=0.6)
    assert told["spread_ms"] == pytest.approx(10.0, abs=4.0)
    assert told["drift_percent"] == pytest.approx(0.0, abs=0.15)
    assert [row["bar"] for row in told["bars"]] == [3, 4, 5, 6, 7, 8]
    assert [row["beat"] for row in told["beats"]] == [1, 2, 3, 4]


def test_without_own_sound_the_click_is_one_of_the_players(call: Call, files: tuple[str, str]):
    told = result(call(files[1], "--tempo", "100", "--start", "0.5", "--json"))
    assert len(told["onsets"]) == 32
    assert max(abs(one["ms"]) for one in told["onsets"]) < 0.5


def test_start_moves_the_grid(call: Call, files: tuple[str, str]):
    told = result(call(files[1], "--tempo", "100", "--start", "1.1", "--json"))
    assert [(one["bar"], one["beat"]) for one in told["onsets"][:2]] == [(0, 4), (1, 1)]
    told = result(call(files[1], "--tempo", "100", "--start", "0.48", "--json"))
    assert told["median_ms"] == pytest.approx(20.0, abs=0.5)


def test_silent_bars_have_a_free_tempo(call: Call, files: tuple[str, str]):
    told = result(call(files[1], "--tempo", "100", "--start", "0.5", "--silent", "2+2", "--json"))
    assert [(one["first_bar"], one["last_bar"]) for one in told["free"]] == [(3, 4), (7, 8)]
    assert all(abs(one["percent"]) < 0.1 for one in told["free"])
    assert "bars 3-4 silent: steady" in call(files[1], "--tempo", "100", "--start", "0.5", "--silent", "2+2")


def test_another_tempo_is_a_drift(call: Call, files: tuple[str, str]):
    told = result(call(files[1], "--tempo", "98", "--start", "0.5", "--json"))
    assert told["drift_percent"] == pytest.approx(100 * (100 / 98 - 1), abs=0.02)


def test_a_ramp_is_followed(call: Call, tmp_path: Path):
    # Linear per beat from 60 to 120 over 16 beats: t(b) = 60 * 16 / 60 * ln(1 + b / 16), worked out by hand.
    places = 0.25 + 16.0 * np.log1p(np.arange(16) / 16)
    soundfile.write(tmp_path / "ramp.wav", struck(places, 13.0, 700.0, 0.03), RATE)
    words = ("--tempo", "60", "--ramp", "60->120 over 16 beats", "--start", "0.25", "--division", "1", "--json")
    told = result(call(str(tmp_path / "ramp.wav"), *words))
    assert len(told["onsets"]) == 16
    assert max(abs(one["ms"]) for one in told["onsets"]) < 0.5


def test_without_json_it_prints_a_table(call: Call, files: tuple[str, str]):
    lines = call(files[0], "--tempo", "100", "--own", files[1]).splitlines()
    assert lines[0].split() == ["seconds", "bar", "beat", "ms"]
    assert lines[1].split()[1:3] == ["3", "1"]
    assert any(line.startswith("bar 8") for line in lines)
    assert any(line.startswith("beat 4") for line in lines)
    assert lines[-1].split()[0] == "drift"


def test_a_recording_of_nothing_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    soundfile.write(tmp_path / "still.wav", np.zeros(RATE), RATE)
    parser = ArgumentParser()
    align.add_arguments(parser)
    assert align.run(parser.parse_args([str(tmp_path / "still.wav"), "--tempo", "100", "--json"])) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["onsets"] == []
    assert json.loads(out)["median_ms"] is None
    assert "no onset was heard" in err


@pytest.mark.parametrize(
    ("words", "kind", "text"),
    [
        (["--tempo", "10"], OutOfRangeError, "20 to 300"),
        (["--tempo", "nan"], OutOfRangeError, "20 to 300"),
        (["--tempo", "100", "--meter", "4/5"], OutOfRangeError, "note value"),
        (["--tempo", "100", "--meter", "waltz"], OutOfRangeError, "a meter such as"),
        (["--tempo", "100", "--ramp", "faster"], OutOfRangeError, "moves such as"),
        (["--tempo", "100", "--silent", "2"], OutOfRangeError, "such as 2\\+2"),
        (["--tempo", "100", "--silent", "0+1"], OutOfRangeError, "such as 2\\+2"),
        (["--tempo", "100", "--start", "inf"], OutOfRangeError, "--start"),
        (["--tempo", "100", "--own", "missing.wav"], BadFileError, "no such file"),
    ],
)
def test_what_it_refuses_it_names(
    call: Call, files: tuple[str, str], words: list[str], kind: type[KeelnoteError], text: str
):
    with pytest.raises(kind, match=text):
        call(files[0], *words)


def test_a_missing_recording_is_named(call: Call):
    with pytest.raises(BadFileError, match=r"absent\.wav"):
        call("absent.wav", "--tempo", "100")
