"""USB-MIDI keyboards: every one that is plugged in plays, at any time, and hears of the tuning.

mido reads and writes the messages; python-rtmidi is its way to the system. One thread looks for keyboards each second
and asks the open ones for what has come: rtmidi would call back from a thread of its own, but says nothing when a
keyboard is pulled out, so somebody has to look anyway.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterable
from typing import Any, Final, Protocol

from firmware.events import Event
from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn, SustainChanged
from firmware.ports import Now, Post
from firmware.selftest.signals import KeyboardsFound

LOOK_SECONDS: Final = 1.0
AGAIN_SECONDS: Final = 30.0
"""Between two looks while the system has no MIDI; its libraries complain at each."""

ASK_SECONDS: Final = 0.003
"""Between two looks at what the open keyboards have sent; half a block."""

SUSTAIN: Final = 64
ALL_OFF: Final = frozenset({120, 123})
"""Controllers of MIDI 1.0: the damper pedal (on from 64), all sound off and all notes off."""

ON_FROM: Final = 64
FIRST_LOOK_SECONDS: Final = 5.0
"""What the first look at the system's MIDI may take: it loads libraries."""

MOST_WAITING: Final = 16
"""Messages that wait to be sent; only the last tuning counts."""

INSIDE: Final = ("through", "rtmidi")
"""Names of ports that are the system's own, in small letters."""


class Backend(Protocol):
    """What is needed of mido's backends."""

    def get_input_names(self) -> Iterable[str]:
        """Names of what may play."""

    def get_output_names(self) -> Iterable[str]:
        """Names of what may be told."""

    def open_input(self, name: str) -> Any:  # noqa: ANN401 - mido has no types
        """Open one to read from."""

    def open_output(self, name: str) -> Any:  # noqa: ANN401 - the same
        """Open one to write to."""


def rtmidi() -> Backend:
    """Load mido's way to the system's MIDI.

    Raises
    ------
    ImportError, OSError
        If python-rtmidi is not there, or the system has no MIDI.
    """
    import mido  # noqa: PLC0415 - a box without a keyboard needs neither of the two
    import rtmidi as _rtmidi  # noqa: PLC0415 - mido would load it only at the first call

    # Where no port is plugged in, RtMidi would go on from ALSA to JACK, whose absence is an error: one that kept the
    # box from seeing a keyboard for as long as it waits after an error.
    alsa = _rtmidi.API_LINUX_ALSA in _rtmidi.get_compiled_api()
    backend: Backend = mido.Backend("mido.backends.rtmidi/LINUX_ALSA" if alsa else "mido.backends.rtmidi")
    return backend


def events_of(message: Any, at: int) -> tuple[Event, ...]:  # noqa: ANN401 - mido has no types
    """Say what a MIDI message means; nothing for most of them."""
    match message.type:
        case "note_on" if message.velocity:
            return (NoteOn(at, message.note, message.velocity),)
        case "note_on" | "note_off":
            return (NoteOff(at, message.note),)
        case "control_change" if message.control == SUSTAIN:
            return (SustainChanged(at, message.value >= ON_FROM),)
        case "control_change" if message.control in ALL_OFF:
            return (SustainChanged(at, down=False), *(NoteOff(at, note) for note in range(128)))
    return ()


class MidiKeyboards:
    """All keyboards that are plugged in; keeps the Keyboard contract.

    Parameters
    ----------
    backend : function
        Makes the backend, again at every look until it can.
    """

    def __init__(self, backend: Callable[[], Backend] = rtmidi) -> None:
        self._make = backend
        self._backend: Backend | None = None
        self._inputs: dict[str, Any] = {}
        self._outputs: dict[str, Any] = {}
        self._known: frozenset[str] = frozenset()
        self._waiting: deque[bytes] = deque(maxlen=MOST_WAITING)
        self._refused: dict[str, str] = {}
        self._looked = threading.Event()
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None
        self.trouble = ""
        """Why there is no MIDI at all, for report.txt; empty when there is."""

    def start(self, post: Post, now: Now) -> None:
        """Begin to look for keyboards and to post what they play."""
        self._ended.clear()
        self._looked.clear()
        self._thread = threading.Thread(target=self._run, args=(post, now), name="keelnote-midi", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End; a second call does nothing."""
        self._ended.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        for ports in (self._inputs, self._outputs):
            for name in tuple(ports):
                _close(ports.pop(name))

    def found(self, at: int) -> KeyboardsFound:
        """Which keyboards there are, for the self-test; waits for the first look, but not for long."""
        self._looked.wait(FIRST_LOOK_SECONDS)
        return KeyboardsFound(at, tuple(sorted(self._known)), tuple(sorted(self._refused.items())), self.trouble)

    def send(self, message: bytes) -> None:
        """Have a message sent to every instrument, soon; of many that wait the oldest are dropped."""
        self._waiting.append(message)

    def _tell(self, message: bytes) -> None:
        """Send a message; an instrument that does not take it is let go."""
        if not self._outputs:
            return
        import mido  # noqa: PLC0415 - a box without an instrument never needs it

        parsed = mido.Message.from_bytes(message)
        for name, port in tuple(self._outputs.items()):
            try:
                port.send(parsed)
            except (OSError, ValueError):
                _close(self._outputs.pop(name))

    def _run(self, post: Post, now: Now) -> None:
        wait = pause = 0.0
        while not self._ended.wait(pause):
            wait -= pause
            if wait <= 0.0:
                self._look(post, now)
                self._looked.set()
                wait = AGAIN_SECONDS if self._backend is None else LOOK_SECONDS
            for name, port in tuple(self._inputs.items()):
                self._ask(name, port, post, now)
            while self._waiting:
                self._tell(self._waiting.popleft())
            pause = ASK_SECONDS if self._inputs or self._outputs else LOOK_SECONDS

    def _look(self, post: Post, now: Now) -> None:
        """Open what has come and let go of what has gone."""
        try:
            self._backend = self._backend or self._make()
            here = _outside(self._backend.get_input_names())
            told = _outside(self._backend.get_output_names())
        except (ImportError, OSError) as error:
            self._backend = None
            self.trouble = f"no MIDI: {error}"
            return
        self.trouble = ""
        self._refused.clear()
        for name in self._inputs.keys() - here:
            self._gone(name, post, now)
        for name in sorted(here - self._inputs.keys()):
            self._open(self._inputs, name, self._backend.open_input)
        for name in self._outputs.keys() - told:
            _close(self._outputs.pop(name))
        for name in sorted(told - self._outputs.keys()):
            self._open(self._outputs, name, self._backend.open_output)
        for name in sorted(here & self._inputs.keys() - self._known):
            post(KeyboardChanged(now(), present=True, name=name))
        self._known = frozenset(self._inputs)

    def _open(self, ports: dict[str, Any], name: str, opened: Callable[[str], Any]) -> None:
        try:
            ports[name] = opened(name)
        except (OSError, ValueError) as error:
            self.trouble = f"{name}: {error}"
            if ports is self._inputs:
                self._refused[name] = str(error)

    def _ask(self, name: str, port: Any, post: Post, now: Now) -> None:  # noqa: ANN401 - mido has no types
        try:
            for message in port.iter_pending():
                for event in events_of(message, now()):
                    post(event)
        except (OSError, ValueError):
            self._gone(name, post, now)
            return
        if getattr(port, "closed", False):
            self._gone(name, post, now)

    def _gone(self, name: str, post: Post, now: Now) -> None:
        _close(self._inputs.pop(name))
        self._known = frozenset(self._inputs)
        post(KeyboardChanged(now(), present=False, name=name))


def _outside(names: Iterable[str]) -> frozenset[str]:
    return frozenset(name for name in names if not any(part in name.lower() for part in INSIDE))


def _close(port: Any) -> None:  # noqa: ANN401 - mido has no types
    try:
        port.close()
    except (OSError, ValueError):
        return  # it has gone already
