"""The console script: its table of commands, exit codes, and what it says of bad input."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from hardware import desk
from hardware.desk import BAD_INPUT, BROKEN_PIPE, COMMANDS, INTERRUPTED, main, parser


def test_every_command_explains_itself(capsys: pytest.CaptureFixture[str]) -> None:
    for entry in COMMANDS:
        with pytest.raises(SystemExit, match="0"):
            parser().parse_args([entry.name, "--help"])
        assert entry.name in capsys.readouterr().out


def test_no_command_or_an_unknown_one_is_bad_input() -> None:
    for words in ([], ["tune"]):
        with pytest.raises(SystemExit, match=str(BAD_INPUT)):
            main(words)


def test_an_unknown_name_lists_what_there_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = str(tmp_path / "x.wav")
    cases = (("--tonic", "H", "Bb"), ("--mode", "doric", "dorian"), ("--tuning", "pure", "meantone"))
    for option, value, known in (*cases, ("--timbre", "loud", "reed")):
        assert main(["drone", option, value, "--seconds", "1", "--out", out]) == BAD_INPUT
        said = capsys.readouterr().err
        assert value in said
        assert known in said


def test_json_of_the_drone_is_one_object(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["drone", "--tonic", "B♭", "--shape", "triad", "--seconds", "0.5", "--json"]
    assert main([*words, "--out", str(tmp_path / "d.wav")]) == 0
    tones = json.loads(capsys.readouterr().out)["tones"]
    assert set(tones[0]) == {"degree", "note", "hz", "cents_from_equal", "level_db"}
    assert [tone["note"] for tone in tones[:3]] == ["B♭2", "D3", "F3"]


def test_interruption_has_its_own_code(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: argparse.Namespace) -> int:
        raise KeyboardInterrupt

    entry = desk._Entry("wait", "wait for ever", lambda _: None, interrupted)
    monkeypatch.setattr(desk, "COMMANDS", (entry,))
    assert main(["wait"]) == INTERRUPTED


def test_a_reader_that_leaves_is_no_fault(tmp_path: Path) -> None:
    sound = tmp_path / "d.wav"
    main(["drone", "--shape", "unison", "--seconds", "3", "--out", str(sound)])
    command = [sys.executable, "-m", "hardware.desk", "hear", str(sound), "--json", "--tonic", "Bb"]
    env = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=env) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        assert running.stdout.readline().startswith(b'{"t"')
        running.stdout.close()
        said = running.stderr.read()
        assert running.wait() == BROKEN_PIPE
    assert said == b""
