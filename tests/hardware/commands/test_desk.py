"""`keelnote desk` in a real terminal (tmux), and the plain words when something it needs is not there."""

from __future__ import annotations

import argparse
import builtins
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.errors import BadFileError, DeviceError
from firmware.units import RATE
from hardware.commands import desk
from hardware.desk import live_box, main, parser
from hardware.desk_app.legend import legend

ROOT = Path(__file__).parents[3]


class Terminal:
    """A terminal of tmux on a server of its own."""

    def __init__(self, folder: Path) -> None:
        self._tmux = ("tmux", "-S", str(folder / "tmux"), "-f", os.devnull)

    def open(self, command: str, columns: int, lines: int) -> None:
        """Run a command in it; the terminal stays open afterwards."""
        size = ("-x", str(columns), "-y", str(lines))
        shell = f"{command}; echo finished with $?; sleep 60"
        subprocess.run([*self._tmux, "new-session", "-d", *size, shell], cwd=ROOT, check=True)

    def strike(self, *keys: str) -> None:
        """Strike keys by tmux's names for them."""
        subprocess.run([*self._tmux, "send-keys", *keys], check=True)

    def text(self) -> str:
        """All that it shows."""
        done = subprocess.run([*self._tmux, "capture-pane", "-p"], check=True, capture_output=True, text=True)
        return done.stdout

    def until(self, shown: Callable[[str], bool]) -> str:
        """Wait until it shows something."""
        deadline = time.monotonic() + 30
        while not shown(text := self.text()):
            assert time.monotonic() < deadline, text
            time.sleep(0.1)
        return text

    def close(self) -> None:
        """End it and what runs in it."""
        subprocess.run([*self._tmux, "kill-server"], check=False, capture_output=True)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    if shutil.which("tmux") is None:
        pytest.skip("not installed: tmux")
    opened = Terminal(tmp_path)
    yield opened
    opened.close()


def test_a_rehearsal_in_a_terminal(terminal: Terminal, tmp_path: Path):
    mic = tmp_path / "mic.wav"
    soundfile.write(mic, 0.3 * np.sin(2 * np.pi * 293.7 * np.arange(RATE) / RATE), RATE)
    stick = tmp_path / "stick"
    keelnote = f"{sys.executable} -m hardware.desk desk --no-sound --mic {mic} --stick {stick}"
    terminal.open(f"{keelnote} 2>{tmp_path / 'errors'}", 80, 24)
    dark = terminal.until(lambda text: legend()[0] in text and "⣿" in text)
    assert "No sound, as asked" in dark
    assert "Stick: " in dark
    assert "/KEELNOTE   Microphone: mic.wav, over and over" in dark
    before = dark.splitlines()[:16]
    terminal.strike("t", "Right")
    terminal.until(lambda text: text.splitlines()[:16] != before)
    terminal.strike("?")
    terminal.until(lambda text: "drone on or off" in text)
    terminal.strike("x")
    terminal.until(lambda text: legend()[0] in text)
    terminal.strike("C-q")
    ended = terminal.until(lambda text: "finished with" in text)
    assert "finished with 0" in ended
    assert (tmp_path / "errors").read_text() == ""
    take, _ = soundfile.read(stick / "KEELNOTE/rehearsals/0001/take-01.flac")
    assert np.abs(take).max() == pytest.approx(0.3, abs=0.01), "the recording was the microphone"
    assert (stick / "KEELNOTE/rehearsals/0001/sheet.html").exists()


def test_no_terminal_is_said_plainly():
    done = subprocess.run(
        [sys.executable, "-m", "hardware.desk", "desk"],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "terminal" in done.stderr
    assert "keelnote rehearse" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.fixture
def in_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(desk, "_is_terminal", lambda _: True)


def arguments(*words: str) -> argparse.Namespace:
    return parser().parse_args(["desk", *words])


@pytest.mark.usefixtures("in_terminal")
def test_a_microphone_that_is_no_sound_file_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    text = tmp_path / "mic.wav"
    text.write_text("not sound")
    with pytest.raises(BadFileError, match=r"mic\.wav"):
        desk.run(arguments("--mic", str(text), "--stick", str(tmp_path)), live_box)
    assert main(["desk", "--mic", str(tmp_path / "none.wav")]) == 2
    assert "There is no such file" in capsys.readouterr().err


@pytest.mark.usefixtures("in_terminal")
def test_a_stick_folder_that_cannot_be_made_is_named(tmp_path: Path):
    (tmp_path / "file").write_text("")
    with pytest.raises(DeviceError, match=r"stick folder .*--stick"):
        desk.run(arguments("--stick", str(tmp_path / "file" / "in")), live_box)


@pytest.mark.usefixtures("in_terminal")
def test_a_missing_textual_is_named_with_a_way_to_install_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    real = builtins.__import__

    def without(name: str, *rest: object) -> object:
        if name.startswith("hardware.desk_app"):
            raise ImportError
        return real(name, *rest)  # type: ignore[arg-type]  # handed on as it came

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(DeviceError, match=r"textual.*pip install 'keelnote\[desk\]'"):
        desk.run(arguments("--stick", str(tmp_path)), live_box)


def test_c_libraries_are_quiet_while_textual_draws(capfd: pytest.CaptureFixture[str]):
    with desk.quiet_libraries():
        os.write(2, b"a library complains")
        assert sys.__stderr__ is not None
        sys.__stderr__.write("a picture")
        sys.__stderr__.flush()
    os.write(2, b"afterwards")
    out, err = capfd.readouterr()
    assert (out, err) == ("a picture", "afterwards")


def test_the_facts_say_where_takes_go_and_what_is_heard():
    assert desk.facts(Path("a/KEELNOTE"), None) == "Stick: a/KEELNOTE"
    assert desk.facts(Path("a"), Path("b/choir.wav")) == "Stick: a   Microphone: choir.wav, over and over"


@pytest.mark.parametrize("mic", [None, Path("m.wav"), Path("a recording with a very long name.wav")])
def test_the_facts_fit_a_line_and_keep_the_end_of_a_long_path(mic: Path | None):
    line = desk.facts(Path("folder/" * 30) / "KEELNOTE", mic)
    assert line.startswith("Stick: …")
    assert "folder/KEELNOTE" in line
    assert len(line) <= 80


def test_each_folder_has_a_spool_of_its_own(tmp_path: Path) -> None:
    one, two = desk.spool_for(tmp_path / "one"), desk.spool_for(tmp_path / "two")
    assert one.folder != two.folder
    assert one.folder == desk.spool_for(tmp_path / "x" / ".." / "one").folder
    assert not one.folder.exists(), "made when it is needed"
