"""A USB number pad as a second panel, a slide presenter as pedals, and the knob when the kernel reads it.

evdev reads the kernel's input devices. One thread looks for new ones each second and waits for the keys of those that
are open; it is the only one that posts. A device of ours is grabbed: its keys reach this panel and nothing else, no
console and no power button. One that is pulled out lets go of what it held.
"""

from __future__ import annotations

import os
import selectors
import threading
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol

from firmware.ports import Now, Post
from hardware.drivers.input_fingers import Fingers, RawEvent, agree, feel, let_go
from hardware.drivers.input_table import Has, Make, kind_of

LOOK_SECONDS: Final = 1.0
"""Between two looks for devices that were plugged in."""

FOLDER: Final = Path("/dev/input")


class InputDevice(Protocol):
    """What is needed of evdev's device; every method raises OSError when it has gone."""

    fd: int
    name: str

    def capabilities(self, *, absinfo: bool) -> Has:
        """What it can do."""

    def grab(self) -> None:
        """Keep its events from everybody else."""

    def read(self) -> Iterable[RawEvent]:
        """Events that wait."""

    def active_keys(self) -> Sequence[int]:
        """Codes of the keys that are down now."""

    def close(self) -> None:
        """Let it go."""


class Inputs(Protocol):
    """The input devices of this machine."""

    def there(self) -> Mapping[str, object]:
        """Their paths, each with something that changes when another device takes its path."""

    def open(self, path: str) -> InputDevice:
        """Open one; raises OSError when it has gone, or may not be read yet."""


class KernelInputs:
    """The input devices of the kernel, through evdev.

    Raises
    ------
    ImportError
        If evdev is not installed.
    """

    def __init__(self, folder: Path = FOLDER) -> None:
        import evdev  # noqa: PLC0415 - a computer that runs the desk has none

        self._evdev: Any = evdev
        self._folder = folder

    def there(self) -> Mapping[str, object]:
        """Their paths, each with something that changes when another device takes its path."""
        found: dict[str, object] = {}
        for path in self._folder.glob("event*"):
            with suppress(OSError):
                found[str(path)] = (path.stat().st_ino, path.stat().st_ctime_ns)
        return found

    def open(self, path: str) -> InputDevice:
        """Open one; raises OSError when it has gone, or may not be read yet."""
        device: InputDevice = self._evdev.InputDevice(path)
        return device


@dataclass(slots=True)
class _Open:
    """A device that is open, and what is down on it."""

    device: InputDevice
    fingers: Fingers


class InputPanel:
    """Every number pad, presenter and kernel-read knob that is plugged in; keeps the Panel contract.

    Parameters
    ----------
    inputs
        Gives the devices of this machine, asked again at every look until it can.
    look
        Seconds between two looks for new ones.
    """

    def __init__(self, inputs: Callable[[], Inputs] = KernelInputs, look: float = LOOK_SECONDS) -> None:
        self._make = inputs
        self._inputs: Inputs | None = None
        self._look_seconds = look
        self._open: dict[str, _Open] = {}
        self._passed: dict[str, object] = {}
        self._selector: selectors.BaseSelector | None = None
        self._wake: tuple[int, int] = (-1, -1)
        self._thread: threading.Thread | None = None
        self._post: Post = lambda _event: None
        self._now: Now = int
        self.trouble = ""
        """Why no device can be used, or the last one that could not be; empty when all is well."""

    @property
    def names(self) -> tuple[str, ...]:
        """Kind and name of each device that is used now, for report.txt."""
        return tuple(sorted(f"{one.fingers.kind.name}: {one.device.name}" for one in tuple(self._open.values())))

    @property
    def has_knob(self) -> bool:
        """Whether the kernel reads the knob here, so that its pins are taken; looks for itself before the start."""
        if self._thread is None:
            inputs = self._reached()
            for path in inputs.there() if inputs is not None else ():
                with suppress(OSError):
                    device = inputs.open(path)  # type: ignore[union-attr]  # there are paths, so there are inputs
                    kind = kind_of(device.capabilities(absinfo=False))
                    device.close()
                    if kind is not None and kind.knob:
                        return True
        return any(one.fingers.kind.knob for one in tuple(self._open.values()))

    def start(self, post: Post, now: Now) -> None:
        """Begin to look for devices and to post what is done to them; a second call begins anew."""
        self.stop()
        self._post, self._now = post, now
        self._selector = selectors.DefaultSelector()
        self._wake = os.pipe()
        self._selector.register(self._wake[0], selectors.EVENT_READ)
        self._look(self._selector)
        self._thread = threading.Thread(target=self._run, args=(self._selector,), name="input", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End, and let all devices go; a second call does nothing."""
        thread, self._thread = self._thread, None
        if thread is None or self._selector is None:
            return
        os.write(self._wake[1], b"x")
        thread.join()
        for one in self._open.values():
            _close(one.device)
        self._open.clear()
        self._passed.clear()
        self._selector.close()
        for end in self._wake:
            os.close(end)

    def _run(self, selector: selectors.BaseSelector) -> None:
        due = time.monotonic() + self._look_seconds
        while True:
            for key, _ in selector.select(max(0.0, due - time.monotonic())):
                if key.fd == self._wake[0]:
                    return
                self._read(selector, str(key.data))
            if time.monotonic() >= due:
                self._look(selector)
                due = time.monotonic() + self._look_seconds

    def _reached(self) -> Inputs | None:
        try:
            self._inputs = self._inputs or self._make()
        except (ImportError, OSError) as error:
            self.trouble = f"no input devices: {error}"
        return self._inputs

    def _look(self, selector: selectors.BaseSelector) -> None:
        """Open what has come; what has gone says so itself when it is read."""
        inputs = self._reached()
        if inputs is None:
            return
        there = inputs.there()
        self._passed = {path: stamp for path, stamp in self._passed.items() if there.get(path) == stamp}
        for path in sorted(there.keys() - self._open.keys() - self._passed.keys()):
            try:
                self._take(selector, inputs.open(path), path, there[path])
            except OSError as error:  # gone again, not ours to read yet, or held by another program
                self.trouble = f"{path}: {error}"

    def _take(self, selector: selectors.BaseSelector, device: InputDevice, path: str, stamp: object) -> None:
        """Use a device if it is one of ours, else pass it over until another has its path."""
        try:
            kind = kind_of(device.capabilities(absinfo=False))
            if kind is None:
                self._passed[path] = stamp
                _close(device)
                return
            device.grab()
        except OSError:
            _close(device)
            raise
        self._open[path] = _Open(device, Fingers(kind))
        selector.register(device.fd, selectors.EVENT_READ, path)
        self.trouble = ""

    def _read(self, selector: selectors.BaseSelector, path: str) -> None:
        one = self._open[path]
        try:
            for event in one.device.read():
                self._tell(one, feel(one.fingers, event))
                if one.fingers.stale:
                    self._tell(one, agree(one.fingers, one.device.active_keys()))
        except BlockingIOError:
            return
        except OSError as error:
            self.trouble = f"{one.device.name} is unplugged ({error.strerror})"
            del self._open[path]
            selector.unregister(one.device.fd)
            self._tell(one, let_go(one.fingers))
            _close(one.device)

    def _tell(self, one: _Open, told: tuple[Fingers, tuple[Make, ...]]) -> None:
        one.fingers, makers = told
        for make in makers:
            self._post(make(self._now()))


def _close(device: InputDevice) -> None:
    with suppress(OSError):
        device.close()
