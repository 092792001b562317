"""`keelnote hear`: lines for machines, a table for people, and plain words when there is nothing."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.errors import BadFileError, OutOfRangeError, UnknownNameError
from hardware.commands import hear

RATE = 48_000
Run = Callable[..., tuple[list[str], str]]
B_FLAT_2 = 440 * 2 ** (-23 / 12)


@pytest.fixture
def keelnote_hear(capsys: pytest.CaptureFixture[str]) -> Run:
    def run(*words: str) -> tuple[list[str], str]:
        parser = argparse.ArgumentParser()
        hear.add_arguments(parser)
        assert hear.run(parser.parse_args(list(words))) == 0
        out, err = capsys.readouterr()
        return out.splitlines(), err

    return run


def tone(hz: float, seconds: float = 1.0, rate: int = RATE) -> np.ndarray:
    time = np.arange(int(rate * seconds)) / rate
    return (0.1 * sum(np.cos(2 * np.pi * k * hz * time) / k for k in range(1, 9))).astype(np.float32)


@pytest.fixture
def recording(tmp_path: Path) -> str:
    """A just D4 that is 7 cents sharp over B♭, after half a second of silence."""
    path = tmp_path / "d.wav"
    sharp_third = 2 * B_FLAT_2 * 5 / 4 * 2 ** (7 / 1200)
    soundfile.write(path, np.concatenate([np.zeros(RATE // 2, np.float32), tone(sharp_third)]), RATE, subtype="PCM_24")
    return str(path)


def test_rows_are_in_the_rooms_words(keelnote_hear: Run, recording: str):
    lines, _ = keelnote_hear(recording, "--tonic", "B", "--names", "german", "--degrees", "movable-do")
    assert lines[1].split()[1:3] == ["D4", "mi"]
    lines, _ = keelnote_hear(recording, "--tonic", "Sib", "--names", "fixed-do")
    assert lines[1].split()[1:3] == ["Re4", "3"]


def test_json_lines_have_exactly_the_promised_keys(keelnote_hear: Run, recording: str):
    lines, _ = keelnote_hear(recording, "--tonic", "Bb", "--mode", "major", "--json")
    objects = [json.loads(line) for line in lines]
    assert len(objects) >= 20
    for each in objects:
        assert list(each) == ["t", "hz", "note", "degree", "cents", "confidence", "spread"]
        assert (each["note"], each["degree"]) == ("D4", "3")
        assert 0 <= each["confidence"] <= 1
        assert 0.4 < each["t"] < 1.6
    assert objects[10]["cents"] == pytest.approx(7, abs=0.1)


@pytest.mark.parametrize(
    ("words", "cents"),
    [
        (["--tuning", "equal"], 7 - 13.686),  # a just third is 13.686 cents under equal
        (["--a4", "442"], 7 - 7.851),  # 1200 log2(442 / 440) = 7.851
        (["--tonic", "B♭"], 7),
    ],
)
def test_cents_are_counted_from_the_chosen_target(keelnote_hear: Run, recording: str, words: list[str], cents: float):
    lines, _ = keelnote_hear(recording, "--tonic", "Bb", "--json", *words)
    assert json.loads(lines[12])["cents"] == pytest.approx(cents, abs=0.1)


def test_all_adds_why_nothing_was_read(keelnote_hear: Run, recording: str):
    lines, _ = keelnote_hear(recording, "--json", "--all")
    objects = [json.loads(line) for line in lines]
    assert len(objects) == 37  # one each 40 ms
    assert objects[3] == {
        "t": objects[3]["t"],
        "hz": None,
        "note": None,
        "degree": None,
        "cents": None,
        "confidence": 0.0,
        "spread": None,
        "why": "silence",
    }


def test_people_get_a_table(keelnote_hear: Run, recording: str):
    lines, _ = keelnote_hear(recording, "--tonic", "Bb", "--all")
    assert lines[0].split() == ["seconds", "note", "degree", "cents", "Hz", "confidence"]
    assert "silence" in lines[3]
    assert lines[25].split()[1:4] == ["D4", "3", "+7.0"]


@pytest.mark.parametrize("rate", [22_050, 44_100])
def test_other_rates_and_stereo_are_heard_the_same(keelnote_hear: Run, tmp_path: Path, rate: int):
    path = tmp_path / "a.flac"
    soundfile.write(path, np.repeat(tone(440.0, rate=rate)[:, None], 2, axis=1), rate)
    lines, _ = keelnote_hear(str(path), "--tonic", "A", "--json")
    assert json.loads(lines[10])["hz"] == pytest.approx(440, abs=0.02)


def test_own_drone_is_not_reported_as_a_player(keelnote_hear: Run, tmp_path: Path):
    drone = tone(B_FLAT_2, 5.0) + tone(2 * B_FLAT_2, 5.0)
    soundfile.write(tmp_path / "own.wav", drone, RATE, subtype="FLOAT")
    late = np.concatenate([np.zeros(960, np.float32), 0.5 * drone, np.zeros(RATE, np.float32)])
    soundfile.write(tmp_path / "mic.wav", late, RATE, subtype="FLOAT")
    without, _ = keelnote_hear(str(tmp_path / "mic.wav"), "--json")
    assert len(without) > 50  # the check can fail: unsuspecting ears do hear it
    lines, err = keelnote_hear(str(tmp_path / "mic.wav"), "--own", str(tmp_path / "own.wav"), "--json")
    assert lines == []
    assert "no pitch could be read" in err
    explained, _ = keelnote_hear(str(tmp_path / "mic.wav"), "--own", str(tmp_path / "own.wav"), "--json", "--all")
    assert "own sound" in {json.loads(line)["why"] for line in explained}


@pytest.mark.parametrize(
    "sound",
    [
        np.zeros(RATE, np.float32),
        np.full(RATE, 0.7, np.float32),
        np.full(RATE, np.nan, np.float32),
        np.clip(9 * np.random.default_rng(1).standard_normal(RATE), -1, 1).astype(np.float32),
    ],
    ids=["silence", "DC", "no numbers", "clipped noise"],
)
def test_nothing_gives_no_lines_and_says_so(keelnote_hear: Run, tmp_path: Path, sound: np.ndarray):
    path = tmp_path / "nothing.wav"
    soundfile.write(path, sound, RATE, subtype="FLOAT")
    lines, err = keelnote_hear(str(path), "--json")
    assert lines == []
    assert "no pitch could be read" in err
    assert ("not numbers" in err) == bool(np.isnan(sound).any())


def test_a_recording_cut_short_is_read_as_far_as_it_goes(keelnote_hear: Run, tmp_path: Path):
    path = tmp_path / "cut.flac"
    soundfile.write(path, tone(220.0, 3.0), RATE)
    path.write_bytes(path.read_bytes()[:-2000])
    lines, err = keelnote_hear(str(path), "--json")
    assert len(lines) > 10
    assert "cut short" in err


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (["--tonic", "H"], UnknownNameError),
        (["--mode", "blue"], UnknownNameError),
        (["--tuning", "wobbly"], UnknownNameError),
        (["--a4", "500"], OutOfRangeError),
        (["--own", "nowhere.wav"], BadFileError),
    ],
)
def test_a_wrong_word_is_named(keelnote_hear: Run, recording: str, words: list[str], error: type[Exception]):
    with pytest.raises(error):
        keelnote_hear(recording, *words)
