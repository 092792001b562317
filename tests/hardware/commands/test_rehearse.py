"""`keelnote rehearse`: what it writes, what it says, and what it refuses."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from hardware.desk import main

SHORT = """
title = "Four notes"
seconds = 1.5
[settings]
preroll = 1
[[player]]
name = "a"
timbre = "horn"
[[play]]
at = 0.2
seconds = 1
player = "a"
degree = "5"
octave = 3
[[cue]]
at = 0.1
tap = "Take"
[[cue]]
at = 0.3
tap = "Drone"
"""


@pytest.fixture
def script(tmp_path: Path) -> Path:
    path = tmp_path / "short.toml"
    path.write_text(SHORT, encoding="utf-8")
    return path


def rehearse(*words: object) -> int:
    return main(["rehearse", *map(str, words)])


KEYBOARD = """
seconds = 2
[[cue]]
at = 0.2
press = "Drone"
[[cue]]
at = 0.3
note = "E3"
seconds = 0.3
[[cue]]
at = 0.4
note = "G3"
seconds = 0.3
[[cue]]
at = 0.9
release = "Drone"
"""


def test_a_script_plays_the_keyboard(tmp_path: Path):
    """Drone is held and E with its minor third is played: the tonic comes from the keyboard."""
    script, out = tmp_path / "keys.toml", tmp_path / "out"
    script.write_text(KEYBOARD)
    assert rehearse(script, "--quiet", "--out", out) == 0
    (log,) = out.rglob("log.jsonl")
    assert '"key": "E minor"' in log.read_text(encoding="utf-8")


def test_it_writes_all_that_it_promises(script: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    out = tmp_path / "out"
    assert rehearse(script, "--out", out) == 0
    said = capsys.readouterr()
    names = [
        "KEELNOTE/rehearsals/0001/log.jsonl",
        "KEELNOTE/rehearsals/0001/sheet.html",
        "KEELNOTE/rehearsals/0001/take-01.flac",
        "KEELNOTE/rehearsals/0001/take-01.vtt",
        "mic.wav",
        "screens.png",
        "speaker.wav",
    ]
    assert [name for name in names if not (out / name).stat().st_size or name not in said.out] == []
    assert "times real time" in said.out
    assert "1 take, " in said.out
    assert "\r" not in said.out
    assert said.err == ""
    for name in ("speaker.wav", "mic.wav"):
        info = soundfile.info(out / name)
        assert (info.samplerate, info.channels, info.subtype) == (48_000, 1, "PCM_24")
        assert info.frames >= 72_000
    assert soundfile.info(out / "speaker.wav").frames == soundfile.info(out / "mic.wav").frames


def test_quiet_says_nothing(script: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert rehearse(script, "--out", tmp_path / "out", "--quiet") == 0
    assert rehearse(script, "--out", tmp_path / "out", "--quiet") == 0  # an earlier one is replaced
    assert capsys.readouterr() == ("", "")


def test_a_terminal_shows_one_line_that_moves(script: Path, tmp_path: Path):
    ours, theirs = os.openpty()
    command = [sys.executable, "-m", "hardware.desk", "rehearse", str(script), "--out", str(tmp_path / "out")]
    done = subprocess.run(command, stdout=theirs, check=False, timeout=60)
    os.close(theirs)
    said = os.read(ours, 65_536).decode()
    os.close(ours)
    assert done.returncode == 0
    bar = said.split("Written to")[0]
    assert bar.count("\r\n") == 1
    assert bar.rstrip().endswith("[####################]     2 of 2 s")


INTERRUPTIBLE = """
import signal, sys
from hardware.desk import main
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell in the background has it ignored by its children
sys.exit(main(sys.argv[1:]))
"""


def test_an_interrupted_rehearsal_ends_at_once_and_makes_room_for_the_next(script: Path, tmp_path: Path):
    out = tmp_path / "out"
    command = [sys.executable, "-c", INTERRUPTIBLE, "rehearse", "--out", str(out), "--quiet"]
    with subprocess.Popen(command) as running:
        deadline = time.monotonic() + 60
        while not (out / "KEELNOTE").exists() and time.monotonic() < deadline:
            time.sleep(0.02)  # another process: there is nothing to wait on but its files
        running.send_signal(signal.SIGINT)
        assert running.wait(timeout=30) == 130
    assert (out / "UNFINISHED.txt").exists()
    assert rehearse(script, "--out", out, "--quiet") == 0
    assert not (out / "UNFINISHED.txt").exists()


def test_a_recording_of_another_rate_is_the_microphone(script: Path, tmp_path: Path):
    # 2 s of 44.1 kHz stereo, longer than the script: it is heard to its end, and nothing else is.
    times = np.arange(88_200) / 44_100
    tone = 0.25 * np.sin(2 * np.pi * 440 * times)
    soundfile.write(tmp_path / "a4.wav", np.column_stack((tone, tone)), 44_100, "PCM_16")
    assert rehearse(script, "--mic", tmp_path / "a4.wav", "--out", tmp_path / "out", "--quiet") == 0
    mic, rate = soundfile.read(tmp_path / "out" / "mic.wav")
    assert rate == 48_000
    assert 96_000 <= len(mic) < 96_512
    wanted = 0.25 * np.sin(2 * np.pi * 440 * np.arange(96_000) / 48_000)
    assert np.abs(mic[480:95_000] - wanted[480:95_000]).max() < 1e-3
    assert not mic[96_001:].any()


@pytest.mark.parametrize("kind", ["silence", "nan", "dc", "clipped"])
def test_bad_sound_is_only_nothing_to_hear(script: Path, tmp_path: Path, kind: str, capsys: pytest.CaptureFixture[str]):
    sound = np.zeros(48_000, np.float32)
    sound += {"silence": 0.0, "nan": np.nan, "dc": 0.7, "clipped": 0.0}[kind]
    if kind == "clipped":
        sound = np.sign(np.sin(np.arange(48_000) * 0.05)).astype(np.float32)
    soundfile.write(tmp_path / "bad.wav", sound, 48_000, "FLOAT")
    assert rehearse(script, "--mic", tmp_path / "bad.wav", "--out", tmp_path / "out") == 0
    said = capsys.readouterr().out
    assert ("48000 samples were not numbers" in said) == (kind == "nan")


def refused(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    """Run what must be refused; its error line."""
    assert rehearse(*words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


def test_a_bad_script_is_refused_with_every_problem(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    path = tmp_path / "bad.toml"
    path.write_text('seconds = "long"\ntitel = "x"\n', encoding="utf-8")
    error = refused(capsys, path, "--out", tmp_path / "out")
    assert f"{path}, line 1: seconds 'long' is not accepted: a number from 1 to 7200." in error
    assert "line 2: titel 'x' is not accepted: unknown key" in error
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (["none.toml"], "none.toml"),
        (["--mic", "none.wav"], "none.wav"),
        (["--mic", "out/speaker.wav"], "outside of the output folder"),
        (["--mic", "notes.txt"], "notes.txt"),
        (["--out", "notes.txt"], "This is a file"),
        (["--out", "."], "notes.txt"),
    ],
)
def test_what_cannot_be_used_is_named(
    words: list[str],
    wanted: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
):
    monkeypatch.chdir(tmp_path)
    Path("notes.txt").write_text("mine", encoding="utf-8")
    options = words if "--out" in words else [*words, "--out", "out"]
    assert wanted in refused(capsys, *options)
    assert Path("notes.txt").read_text(encoding="utf-8") == "mine"
