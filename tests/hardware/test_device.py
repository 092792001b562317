"""The entry on the box, run on simulated devices, and as a process on a machine that has none."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import soundfile

from firmware.events import Noticed, PanelKey
from firmware.parts.part import Start
from firmware.ports import Screen, Stick
from firmware.settings import DEFAULTS, read_settings, write_settings
from firmware.units import RATE
from hardware.card_keeper import Card
from hardware.desk import live_box
from hardware.device import Devices, run_box
from hardware.drivers.oled import OledScreen
from hardware.drivers.stick import FolderStick
from hardware.live_loop import LiveLoop
from hardware.service.heartbeat import Heartbeat
from hardware.service.notify import Notifier
from hardware.service.state import StateKeeper
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.sound_card import QuietCard, SimulatedSoundCard


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


class Manager:
    """A service manager: starts the real box with a socket, a watchdog and a folder in memory, and hears its news."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(str(folder / "notify"))
        self.socket.settimeout(60)
        self.box: subprocess.Popen[bytes] | None = None

    def start(self) -> float:
        """Start the box and wait until it is ready; how many seconds that took."""
        began = time.monotonic()
        command = [sys.executable, "-m", "hardware.desk", "box", "--stick", str(self.folder / "none")]
        environment = os.environ | {
            "NOTIFY_SOCKET": str(self.folder / "notify"),
            "WATCHDOG_USEC": "1000000",
            "RUNTIME_DIRECTORY": str(self.folder),
        }
        with (self.folder / "said").open("ab") as said:
            self.box = subprocess.Popen(
                [*command, "--card", str(self.folder)], env=environment, stdout=said, stderr=said
            )
        self.hear("READY=1")
        return time.monotonic() - began

    def hear(self, line: str) -> None:
        """Wait for some news; what else comes before it is passed over."""
        while self.socket.recv(4096).decode() != line:
            pass

    def end(self, number: signal.Signals) -> int:
        """End the box by a signal; its exit code."""
        assert self.box is not None
        self.box.send_signal(number)
        return self.box.wait(60)


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[Manager]:
    made = Manager(tmp_path)
    yield made
    made.socket.close()
    if made.box is not None and made.box.poll() is None:
        made.box.kill()
        made.box.wait(10)


def sounding(folder: Path) -> bool:
    """Whether the drone sounds, as the box keeps it for the next process."""
    return bool(json.loads((folder / "state.json").read_text(encoding="utf-8"))["sounding"])


def test_the_service_manager_hears_that_it_is_ready_lives_and_ends(manager: Manager) -> None:
    manager.start()
    for _ in range(3):
        manager.hear("WATCHDOG=1")
    assert manager.end(signal.SIGTERM) == 0
    manager.hear("STOPPING=1")


def test_a_box_that_stands_still_is_heard_no_more(manager: Manager) -> None:
    manager.start()
    said = manager.folder / "said"
    wait_until(lambda: "running" in said.read_text(encoding="utf-8"), 60)
    assert manager.box is not None
    manager.box.send_signal(signal.SIGSTOP)
    manager.socket.settimeout(1.5)
    with pytest.raises(TimeoutError):
        manager.hear("news that never come")
    manager.box.send_signal(signal.SIGCONT)
    manager.socket.settimeout(60)
    manager.hear("WATCHDOG=1")
    assert manager.end(signal.SIGABRT) == -signal.SIGABRT
    assert "most recent call first" in said.read_text(encoding="utf-8"), "the place of each thread is written"


def test_after_a_crash_the_drone_goes_on_as_it_was_and_after_an_orderly_end_it_does_not(manager: Manager) -> None:
    in_d = DEFAULTS.put("tonic", "D")
    before = {"tries": 0, "sounding": True, "settings": write_settings(in_d)}
    (manager.folder / "state.json").write_text(json.dumps(before), encoding="utf-8")
    manager.start()
    wait_until(lambda: sounding(manager.folder), 60)
    assert manager.end(signal.SIGKILL) == -signal.SIGKILL
    manager.start()
    wait_until(lambda: sounding(manager.folder), 60)
    kept = json.loads((manager.folder / "state.json").read_text(encoding="utf-8"))
    assert read_settings(kept["settings"], "state")[0] == in_d
    assert manager.end(signal.SIGTERM) == 0
    assert not (manager.folder / "state.json").exists()


def test_a_sounding_drone_is_heard_at_once_after_a_crash(tmp_path: Path) -> None:
    state = StateKeeper(tmp_path, FolderStick(tmp_path / "none/KEELNOTE"))
    (tmp_path / "state.json").write_text(
        json.dumps({"tries": 0, "sounding": True, "settings": write_settings(DEFAULTS)}), encoding="utf-8"
    )
    card = SimulatedSoundCard()
    devices = Devices(FolderStick(tmp_path / "none/KEELNOTE"), Served(), SimulatedPanel(), card, state=state)

    def listen(_early: object) -> None:
        wait_until(lambda: card.run(4).any())

    run_box(devices, live_box, listen)


def test_a_card_that_is_not_well_and_settings_that_are_older_are_said_on_the_screen(tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "settings.toml").write_bytes(bytes(512))
    (kept / "settings.toml.old").write_text(write_settings(DEFAULTS.put("tonic", "D")), encoding="utf-8")
    none = FolderStick(tmp_path / "none/KEELNOTE")
    starts = []

    def make_box(stick: Stick, screen: Screen, start: Start, card: Card, **parts: Any) -> LiveLoop:  # noqa: ANN401 - as given
        starts.append(start)
        return live_box(stick, screen, start, card, **parts)

    state = StateKeeper(None, none, FolderStick(kept))
    devices = Devices(none, Served(), SimulatedPanel(), QuietCard(), state=state, notices=("card-memory",))
    run_box(devices, make_box, lambda _early: None)
    (start,) = starts
    assert start.notices == ("card-memory", "settings-before")
    assert start.values.text("tonic") == "D"


def test_a_card_that_takes_no_settings_any_more_is_said_once(tmp_path: Path) -> None:
    none = FolderStick(tmp_path / "none/KEELNOTE")
    (tmp_path / "kept").write_bytes(b"no folder")
    screen, panel = Served(), SimulatedPanel()
    state = StateKeeper(None, none, FolderStick(tmp_path / "kept"))
    posted: list[object] = []

    def make_box(stick: Stick, screen: Screen, start: Start, card: Card, **parts: Any) -> LiveLoop:  # noqa: ANN401 - as given
        loop = live_box(stick, screen, start, card, **parts)
        post = loop.post
        loop.post = lambda event: (posted.append(event), post(event))  # type: ignore[assignment,method-assign] - noted too
        return loop

    def change(early: Callable[[], bool]) -> None:
        panel.turn(1)
        wait_until(lambda: state.card_refuses)
        for _ in range(3):
            assert not early()

    run_box(Devices(none, screen, panel, QuietCard(), state=state), make_box, change)
    assert [event.message for event in posted if isinstance(event, Noticed)] == ["card-memory"]


def test_the_watchdog_waits_anew_for_each_step_of_a_box_that_begins_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = FolderStick(tmp_path / "media/KEELNOTE")
    steps: list[str] = []
    notifier = Notifier()
    monkeypatch.setattr(notifier, "_send", steps.append)
    monkeypatch.setattr(Heartbeat, "start", lambda _self: None)

    def make_box(stick: Stick, screen: Screen, start: Start, card: Card, **parts: Any) -> LiveLoop:  # noqa: ANN401 - as given
        steps.append("made")
        return live_box(stick, screen, start, card, **parts)

    def until_a_stick_comes(early: Callable[[], bool]) -> None:
        if steps.count("made") == 1:
            assert not early()
            (tmp_path / "media").mkdir()
            assert early()

    run_box(Devices(stick, Served(), SimulatedPanel(), QuietCard(), notifier=notifier), make_box, until_a_stick_comes)
    assert steps == ["made", "WATCHDOG=1", "WATCHDOG=1", "made"]
