"""What of the PortAudio driver needs no sound server: a plain word when PortAudio is absent, and what it opens."""

from __future__ import annotations

import atexit
import builtins
import os
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from firmware.errors import DeviceError
from hardware.drivers import sound_card
from hardware.drivers.sound_card import STALL_SECONDS, PortAudioCard, portaudio
from hardware.drivers.sound_devices import ByRule, Choice


def refuse(monkeypatch: pytest.MonkeyPatch, error: Exception) -> None:
    real = builtins.__import__

    def without(name: str, *rest: object) -> object:
        if name == "sounddevice":
            raise error
        return real(name, *rest)  # type: ignore[arg-type] - handed on as it came

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(builtins, "__import__", without)


@pytest.mark.parametrize(
    ("error", "remedy"),
    [
        (OSError("PortAudio library not found"), "apt install libportaudio2"),
        (ImportError("No module named 'sounddevice'"), r"pip install 'keelnote\[desk\]'"),
    ],
)
def test_what_is_not_installed_is_named_with_a_way_to_install_it(
    monkeypatch: pytest.MonkeyPatch, error: Exception, remedy: str
):
    refuse(monkeypatch, error)
    with pytest.raises(DeviceError, match=remedy):
        portaudio()
    card = PortAudioCard()
    with pytest.raises(DeviceError, match=remedy):
        card.start(np.zeros_like)
    assert not card.healthy()
    assert not card.reopen()
    assert (card.lost, card.latency, card.name) == (0, 0.0, "")
    card.stop()


class Flags:
    """PortAudio's status of one callback."""

    def __init__(self, *, late: bool = False, priming: bool = False) -> None:
        self.priming_output = priming
        self._any = late or priming

    def __bool__(self) -> bool:
        return self._any


def test_the_callback_counts_what_came_late_and_measures_gaps():
    clock = iter([1.0, 1.0, 1.01, 1.013, 1.25, 1.25, 1.25 + STALL_SECONDS - 0.01, 1.25 + STALL_SECONDS + 0.01])
    card = PortAudioCard(now=lambda: next(clock))
    card._stream = object()
    heard, played = np.zeros((512, 1), np.float32), np.ones((512, 2), np.float32)
    for flags in (Flags(priming=True), Flags(), Flags(late=True)):
        card._callback(heard, played, 512, None, flags)
    assert card.lost == 1
    assert card.worst_gap == pytest.approx(0.24)
    assert card.worst_work == pytest.approx(0.003)
    assert not played.any()
    assert card.healthy()
    assert not card.healthy()


class LateStream:
    """A stream that calls back once more while it is being ended."""

    def __init__(self, card: PortAudioCard) -> None:
        self._card = card

    def abort(self) -> None:
        self._card._callback(np.zeros((512, 1), np.float32), np.zeros((512, 2), np.float32), 512, None, Flags())

    def close(self) -> None:
        pass


def test_a_callback_that_comes_while_the_card_is_let_go_makes_it_no_healthier():
    card = PortAudioCard()
    card._sd = SimpleNamespace(PortAudioError=ValueError)
    card._stream = LateStream(card)
    card.stop()
    assert not card.healthy()
    card._stream = LateStream(card)
    assert not card.healthy(), "what the last stream said does not count for the next"


class HungStream:
    """A stream of a sound server that hangs: abort never comes back."""

    def __init__(self, release: threading.Event) -> None:
        self.abort = release.wait
        self.close = release.wait


def test_a_server_that_hangs_holds_up_neither_stop_nor_the_end_of_the_program(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sound_card, "CLOSING_SECONDS", 0.05)
    left_out: list[object] = []
    monkeypatch.setattr(atexit, "unregister", left_out.append)
    card, release = PortAudioCard(), threading.Event()
    card._sd = SimpleNamespace(_exit_handler="at exit", PortAudioError=ValueError)
    card._stream = HungStream(release)
    card.stop()
    assert left_out == ["at exit"]
    assert not card.healthy()
    assert not card.reopen(), "no second stream while the first one hangs"
    release.set()


class FakeStream:
    """A stream of which only the arguments matter."""

    def __init__(self, kind: str, **arguments: object) -> None:
        self.kind = kind
        self.arguments = arguments
        device = arguments["device"]
        self.device = device
        self.latency = (0.01, 0.02) if isinstance(device, tuple) else 0.02

    def start(self) -> None:
        if 1 in (self.device if isinstance(self.device, tuple) else (self.device,)):
            raise ConnectionError("busy")

    def abort(self) -> None:
        pass

    close = abort


def listed(folder: Path, *lines: str) -> ByRule:
    (folder / "pcm").write_text("".join(f"{line}\n" for line in lines))
    return ByRule(kernel=folder)


def with_devices(card: PortAudioCard, *names: str) -> list[FakeStream]:
    """Give a card a PortAudio that lists some devices; the streams that it opens."""
    opened: list[FakeStream] = []

    def make(kind: str, **arguments: object) -> FakeStream:
        opened.append(FakeStream(kind, **arguments))
        return opened[-1]

    def query(index: int | None = None, _kind: str = "") -> object:
        devices = [{"name": name, "max_output_channels": 2} for name in names]
        return devices if index is None else devices[index]

    card._sd = SimpleNamespace(
        PortAudioError=ConnectionError,
        query_devices=query,
        Stream=lambda **arguments: make("both", **arguments),
        OutputStream=lambda **arguments: make("out", **arguments),
    )
    return opened


JACK = "00-00: bcm2835 Headphones : bcm2835 Headphones : playback 8"
DUPLEX = "01-00: Codec : Codec : playback 1 : capture 1"


def test_a_card_that_can_not_be_opened_is_passed_over_for_the_next(tmp_path: Path):
    card = PortAudioCard(listed(tmp_path, JACK, DUPLEX))
    opened = with_devices(card, "Jack: - (hw:0,0)", "Codec: - (hw:1,0)")
    card._open()
    assert [stream.kind for stream in opened] == ["both", "both", "out", "out"]
    assert opened[-1].arguments["device"] == 0
    assert card.summary == "Sound: Jack: - (hw:0,0), 20 ms, no microphone"
    assert not card.better(), "the best card was tried; it is not tried again while sound goes on"
    played = np.ones((512, 2), np.float32)
    card._process = lambda mic: mic + 0.25
    opened[-1].arguments["callback"](played, 512, None, Flags())  # type: ignore[operator] - a function
    assert np.all(played == 0.25), "without a microphone silence is heard"


def test_a_better_card_is_noticed_and_so_is_the_wish_for_another(tmp_path: Path):
    card = PortAudioCard(listed(tmp_path, JACK))
    assert not card.better()
    with_devices(card, "Jack: - (hw:0,0)")
    card._open()
    assert not card.better()
    listed(tmp_path, JACK, DUPLEX)
    assert card.better()
    card.choose("built-in")
    assert card._chooser.choices()[0].played == "(hw:0,0)"
    listed(tmp_path)
    assert not card.better(), "without any card the silence of this one tells"


def test_a_card_whose_real_time_thread_never_sleeps_is_opened_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    clock = [10.0]
    card = PortAudioCard(listed(tmp_path, DUPLEX), now=lambda: clock[0])
    with_devices(card, "none", "Codec: - (hw:1,0)", "Codec: - (hw:1,0)")
    monkeypatch.setattr(FakeStream, "start", lambda _self: None)

    def calls_back(share: float) -> None:
        """For three seconds, of which the driver takes a share for itself between the callbacks."""
        card._open()
        for _ in range(300):
            clock[0] += 0.01
            monkeypatch.setattr(time, "thread_time", lambda: share * clock[0])
            card._callback(np.zeros((512, 1), np.float32), np.zeros((512, 2), np.float32), 512, None, Flags())

    calls_back(0.95)
    assert not card.better(), "an ordinary thread keeps nobody waiting"
    card.scheduling = sound_card.REAL_TIME
    calls_back(0.02)
    assert not card.better()
    calls_back(0.95)
    assert card.better(), "the same card again"
    assert not card.better()
    calls_back(0.95)
    assert not card.better(), "where it did not help, it is not tried again and again"


def test_the_callbacks_thread_asks_for_real_time_once_and_says_what_came_of_it(monkeypatch: pytest.MonkeyPatch):
    asked: list[object] = []

    def refuse(*what: object) -> None:
        asked.append(what)
        raise PermissionError(1, "not permitted")

    monkeypatch.setattr(os, "sched_setscheduler", refuse)
    card = PortAudioCard(realtime=True)
    with_devices(card, "one", "two", "three")
    card._new_stream(Choice(0, 2))
    for _ in range(3):
        card._callback(np.zeros((512, 1), np.float32), np.zeros((512, 2), np.float32), 512, None, Flags())
    assert len(asked) == 1
    assert "not real-time" in card.scheduling
    monkeypatch.setattr(os, "sched_setscheduler", lambda *_: None)
    card._new_stream(Choice(0, 2))
    card._callback(np.zeros((512, 1), np.float32), np.zeros((512, 2), np.float32), 512, None, Flags())
    assert card.scheduling == "real-time"


def test_a_system_that_forbids_callbacks_is_said_and_ends_nothing():
    card = PortAudioCard()
    with_devices(card, "one")

    def forbidden(**_arguments: object) -> None:
        raise MemoryError("Cannot allocate write+execute memory for ffi.callback()")

    card._sd.Stream = forbidden
    with pytest.raises(DeviceError, match=r"write.execute memory"):
        card._open_one(Choice(0, 0))
