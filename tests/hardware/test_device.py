"""The entry on the box, run on simulated devices, and as a process on a machine that has none."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import soundfile

from firmware.events import PanelKey
from firmware.units import RATE
from hardware.desk import live_box
from hardware.device import Devices, run_box
from hardware.drivers.oled import OledScreen
from hardware.drivers.stick import FolderStick
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.sound_card import QuietCard


class Served(SimulatedScreen):
    started = stopped = 0

    def start(self) -> None:
        self.started += 1

    def stop(self) -> None:
        self.stopped += 1


def wait_until(true: Callable[[], object], seconds: float = 10.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.005)


def test_keys_on_the_box_are_obeyed_seen_and_recorded(tmp_path: Path) -> None:
    panel, screen = SimulatedPanel(), Served()
    folder = tmp_path / "KEELNOTE/rehearsals/0001"

    def tap(key: PanelKey) -> None:
        panel.press(key)
        panel.release(key)

    def play(_early: object) -> None:
        wait_until(lambda: screen.shown)
        dark = screen.last_frame
        tap(PanelKey.DRONE)
        tap(PanelKey.TAKE)
        wait_until(lambda: (folder / "take-01.flac").exists() and screen.last_frame != dark)
        tap(PanelKey.TAKE)
        wait_until((folder / "sheet.html").exists)

    devices = Devices(FolderStick(tmp_path / "KEELNOTE"), screen, panel, QuietCard())
    assert run_box(devices, live_box, play) == 0
    assert (screen.started, screen.stopped) == (1, 1)
    assert soundfile.info(folder / "take-01.flac").samplerate == RATE
    assert '"sounding": true' in (folder / "log.jsonl").read_text(encoding="utf-8")


def test_a_date_that_is_known_stands_in_the_name_of_the_rehearsal(tmp_path: Path) -> None:
    screen, folder = Served(), tmp_path / "KEELNOTE/rehearsals/0001 2026-11-25"
    stick = FolderStick(tmp_path / "KEELNOTE")
    devices = Devices(stick, screen, SimulatedPanel(), QuietCard(), date=lambda: "2026-11-25")
    run_box(devices, live_box, lambda _early: wait_until((folder / "log.jsonl").exists))
    assert folder.is_dir()


def test_the_real_entry_starts_and_stops_where_nothing_is_plugged_in(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "hardware.desk", "box", "--stick", str(tmp_path), "--card", str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as box:
        assert box.stdout is not None
        lines = iter(box.stdout)
        assert any("running" in line for line in lines)
        box.send_signal(signal.SIGTERM)
        said = "".join(lines)
        assert box.wait(timeout=60) == 0, said


def test_the_oled_has_what_the_box_asks_of_a_screen() -> None:
    for name in ("start", "stop", "show", "dim"):
        assert callable(getattr(OledScreen, name))
