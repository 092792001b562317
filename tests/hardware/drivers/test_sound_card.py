"""What of the PortAudio driver needs no sound server: names of devices, and a plain word when PortAudio is absent."""

from __future__ import annotations

import atexit
import builtins
import sys
import threading
from types import SimpleNamespace

import numpy as np
import pytest

from firmware.errors import DeviceError
from hardware.drivers import sound_card
from hardware.drivers.sound_card import STALL_SECONDS, PortAudioCard, device_pair, portaudio


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        (None, (None, None)),
        ("", (None, None)),
        ("3", (3, 3)),
        ("usb", ("usb", "usb")),
        ("1,2", (1, 2)),
        (" in , out ", ("in", "out")),
        (",2", (None, 2)),
        ("mic,", ("mic", None)),
    ],
)
def test_devices_are_named_for_both_or_for_each_way(text: str | None, pair: tuple[object, object]):
    assert device_pair(text) == pair


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
