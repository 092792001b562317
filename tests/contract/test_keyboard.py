"""Keyboards, real driver and simulated twin, keep one contract.

The real driver runs on mido's own ports: its sockets backend, a keyboard at the other end of a line. This machine's
kernel has no MIDI, so rtmidi itself has no port to open; what it raises then is tested beside the driver.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Any, Protocol

import mido
import mido.sockets
import pytest

from firmware.events import Event
from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn, SustainChanged
from firmware.music.midi_tuning import scale_tuning
from firmware.ports import Keyboard
from hardware.drivers.midi_keyboard import MidiKeyboards
from hardware.simulated.keyboard import SimulatedKeyboard

NAME = "little keys"
TUNING = scale_tuning([0.0, -29.3, 3.9, 15.6, -13.7, -2.0, -9.8, 2.0, 13.7, -15.6, -3.9, -11.7])


class Posted:
    """What was posted; a test waits for the next without a clock of its own."""

    def __init__(self) -> None:
        self._events: list[Event] = []
        self._came = threading.Condition()

    def post(self, event: Event) -> None:
        with self._came:
            self._events.append(event)
            self._came.notify_all()

    def next(self) -> Event:
        with self._came:
            assert self._came.wait_for(lambda: self._events, timeout=10), "nothing was posted"
            return self._events.pop(0)

    @property
    def empty(self) -> bool:
        return not self._events


class Rig(Protocol):
    keyboard: Keyboard

    def plug_in(self) -> None: ...
    def pull_out(self) -> None: ...
    def press(self, note: int, velocity: int) -> None: ...
    def release(self, note: int) -> None: ...
    def sustain(self, *, down: bool) -> None: ...
    def told(self) -> bytes: ...
    def close(self) -> None: ...


class Simulated:
    def __init__(self) -> None:
        self.keyboard = SimulatedKeyboard()
        self.press = self.keyboard.press
        self.release = self.keyboard.release
        self.sustain = self.keyboard.sustain
        self.pull_out = self.keyboard.pull_out

    def plug_in(self) -> None:
        self.keyboard.plug_in(NAME)

    def told(self) -> bytes:
        return self.keyboard.sent.pop(0)

    def close(self) -> None:
        self.keyboard.stop()


class OnALine:
    """mido's socket ports, given the names that a system would give them."""

    def __init__(self) -> None:
        self._plugged = False
        self._server = mido.sockets.PortServer("127.0.0.1", 0)
        self._port = self._server._socket.getsockname()[1]
        self._far: Any = None
        self._ports: list[Any] = [self._server]
        self.keyboard = MidiKeyboards(lambda: self)

    def get_input_names(self) -> list[str]:
        return ["Midi Through Port-0", *([NAME] if self._plugged else [])]

    get_output_names = get_input_names

    def open_input(self, name: str) -> mido.sockets.SocketPort:
        assert name == NAME, "the system's own port was opened"
        self._near = mido.sockets.connect("127.0.0.1", self._port)
        self._far = self._server.accept()
        self._ports += [self._near, self._far]
        return self._near

    def open_output(self, _: str) -> mido.sockets.SocketPort:
        return self._near

    def plug_in(self) -> None:
        self._plugged = True

    def pull_out(self) -> None:
        self._plugged = False

    def press(self, note: int, velocity: int) -> None:
        self._far.send(mido.Message("note_on", note=note, velocity=velocity))

    def release(self, note: int) -> None:
        self._far.send(mido.Message("note_on", note=note, velocity=0))

    def sustain(self, *, down: bool) -> None:
        self._far.send(mido.Message("control_change", control=64, value=127 if down else 0))

    def told(self) -> bytes:
        return bytes(self._far.receive().bytes())

    def close(self) -> None:
        self.keyboard.stop()
        for port in self._ports:
            port.close()
            for name in ("_rfile", "_wfile"):  # mido leaves these to the collector
                if hasattr(port, name):
                    getattr(port, name).close()
            port._socket.close()


@pytest.fixture(params=[Simulated, OnALine])
def rig(request) -> Iterator[Rig]:
    made: Callable[[], Rig] = request.param
    rig = made()
    yield rig
    rig.close()


@pytest.fixture
def posted() -> Posted:
    return Posted()


def test_what_is_played_is_posted_in_order(rig, posted):
    rig.keyboard.start(posted.post, lambda: 7)
    rig.plug_in()
    assert posted.next() == KeyboardChanged(7, present=True, name=NAME)
    rig.press(60, 90)
    rig.sustain(down=True)
    rig.release(60)
    rig.sustain(down=False)
    assert [posted.next() for _ in range(4)] == [
        NoteOn(7, 60, 90),
        SustainChanged(7, down=True),
        NoteOff(7, 60),
        SustainChanged(7, down=False),
    ]


def test_a_keyboard_that_is_pulled_out_is_told_and_may_come_back(rig, posted):
    rig.plug_in()
    rig.keyboard.start(posted.post, lambda: 1)
    assert posted.next() == KeyboardChanged(1, present=True, name=NAME)
    rig.pull_out()
    assert posted.next() == KeyboardChanged(1, present=False, name=NAME)
    rig.plug_in()
    assert posted.next() == KeyboardChanged(1, present=True, name=NAME)
    rig.press(61, 1)
    assert posted.next() == NoteOn(1, 61, 1)


def test_the_tuning_reaches_the_instrument(rig, posted):
    rig.plug_in()
    rig.keyboard.start(posted.post, lambda: 1)
    posted.next()
    rig.keyboard.send(TUNING)
    assert rig.told() == TUNING


def test_sending_to_nobody_and_stopping_twice_are_nothing(rig, posted):
    rig.keyboard.send(TUNING)
    rig.keyboard.start(posted.post, lambda: 1)
    rig.keyboard.send(TUNING)
    rig.keyboard.stop()
    rig.keyboard.stop()
    assert posted.empty
