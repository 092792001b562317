"""Number pads, presenters and kernel-read knobs without USB; the real driver reads them from a pipe."""

from __future__ import annotations

import errno
import os
import struct
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from hardware.drivers.input_table import (
    DOWN,
    EV_KEY,
    EV_REL,
    EV_SYN,
    NUMBER_PAD,
    PRESENTER,
    REPEAT,
    SYN_DROPPED,
    SYN_REPORT,
    UP,
    Has,
)

EVENT: Final = struct.Struct("llHHi")
"""struct input_event of the kernel (linux/input.h) on this machine: two of time, type, code, value."""

REL_X: Final = 0

PAD: Final[Has] = {EV_KEY: [stroke.code for stroke in NUMBER_PAD] + [69, 98, 55]}
"""A number pad, which also has Num Lock, / and *."""

CLICKER: Final[Has] = {EV_KEY: [stroke.code for stroke in PRESENTER] + [1, 48, 63]}
"""A presenter, which also has Escape, B and F5."""

ENCODER: Final[Has] = {EV_REL: [REL_X]}
"""What the kernel's driver for a rotary encoder is, set to a relative axis."""

MOUSE: Final[Has] = {EV_KEY: [272, 273, 274], EV_REL: [0, 1, 8]}


@dataclass(frozen=True, slots=True)
class Raw:
    """One event of the kernel."""

    type: int
    code: int
    value: int


class SimulatedInput:
    """One device, as evdev shows it, and as a hand moves it.

    Parameters
    ----------
    has
        What it can do.
    name
        What it calls itself.
    """

    def __init__(self, has: Has = PAD, name: str = "simulated pad") -> None:
        self._has = has
        self.name = name
        self.fd, self._end = os.pipe()
        os.set_blocking(self.fd, False)
        self.down: set[int] = set()
        """Codes of the keys that are down."""
        self.grabbed = False
        self.closed = False
        self.taken = False
        """Set it, and another program has grabbed the device."""

    # --- what a hand does -------------------------------------------------------------------------------------------

    def press(self, code: int) -> None:
        """Put a key down."""
        self.down.add(code)
        self.send(EV_KEY, code, DOWN)

    def repeat(self, code: int) -> None:
        """Keep it down for so long that the kernel repeats it."""
        self.send(EV_KEY, code, REPEAT)

    def release(self, code: int) -> None:
        """Let a key come up."""
        self.down.discard(code)
        self.send(EV_KEY, code, UP)

    def turn(self, steps: int) -> None:
        """Turn an encoder by some detents at once."""
        self.send(EV_REL, REL_X, steps)

    def overrun(self) -> None:
        """Let the kernel's queue run over: what was in it is lost."""
        self.send(EV_SYN, SYN_DROPPED, 0)

    def unplug(self) -> None:
        """Pull it out; what is in its queue is lost with it."""
        if self._end >= 0:
            os.close(self._end)
            self._end = -1

    def send(self, kind: int, code: int, value: int) -> None:
        """Put one event and its report into the queue."""
        os.write(self._end, EVENT.pack(0, 0, kind, code, value) + EVENT.pack(0, 0, EV_SYN, SYN_REPORT, 0))

    # --- what evdev shows -------------------------------------------------------------------------------------------

    def capabilities(self, *, absinfo: bool) -> Has:  # noqa: ARG002 - evdev's signature; we have no such axes
        """What it can do."""
        return self._has

    def grab(self) -> None:
        """Keep its events from everybody else."""
        if self.taken:
            raise OSError(errno.EBUSY, "another program has it")
        self.grabbed = True

    def read(self) -> Iterator[Raw]:
        """Events that wait; raises OSError when it has gone."""
        data = os.read(self.fd, EVENT.size * 64)
        if not data:
            raise OSError(errno.ENODEV, "No such device")
        for place in range(0, len(data), EVENT.size):
            yield Raw(*EVENT.unpack_from(data, place)[2:])

    def active_keys(self) -> Sequence[int]:
        """Codes of the keys that are down now."""
        return sorted(self.down)

    def close(self) -> None:
        """Let it go."""
        if not self.closed:
            self.closed = True
            os.close(self.fd)
        self.grabbed = False


class SimulatedInputs:
    """The input devices of a machine, plugged in and pulled out by calls; keeps the Inputs contract.

    A device can be opened once: plug in a new one to have it back.
    """

    def __init__(self) -> None:
        self._plugged: dict[str, tuple[SimulatedInput, int]] = {}
        self._count = 0
        self.denied: set[str] = set()
        """Paths that may not be read yet."""

    def plug(self, device: SimulatedInput, path: str = "") -> str:
        """Put a device in; its path."""
        self._count += 1
        path = path or f"/dev/input/event{self._count}"
        self._plugged[path] = (device, self._count)
        return path

    def unplug(self, path: str) -> None:
        """Pull a device out."""
        self._plugged.pop(path)[0].unplug()

    def there(self) -> Mapping[str, object]:
        """Paths of all that is plugged in, each with a number of its own."""
        return {path: count for path, (_, count) in self._plugged.items()}

    def open(self, path: str) -> SimulatedInput:
        """Open one."""
        if path in self.denied:
            raise PermissionError(errno.EACCES, "Permission denied")
        if path not in self._plugged:
            raise FileNotFoundError(errno.ENOENT, "No such file or directory")
        return self._plugged[path][0]
