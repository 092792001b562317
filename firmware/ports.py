"""What the box needs of the world, as protocols. Real drivers and simulated ones keep the same contract."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from firmware.events import Event
from firmware.lamp import Lamp
from firmware.screens.frame import Frame
from firmware.units import Samples

Post = Callable[[Event], None]
"""How a driver hands an event to the box; never blocks."""

Now = Callable[[], int]
"""Sample count of the one clock."""


class SoundCard(Protocol):
    """Full-duplex sound: calls `process` with a microphone block and plays the block that it returns."""

    def start(self, process: Callable[[Samples], Samples]) -> None:
        """Begin; raises DeviceError when there is no card."""

    def stop(self) -> None:
        """End; a second call does nothing."""

    def healthy(self) -> bool:
        """Whether the card still calls back; a pulled card falls silent without any error."""

    @property
    def lost(self) -> int:
        """Blocks that came late or not at all since the start."""

    @property
    def latency(self) -> float:
        """Seconds from a block that `process` returned to the loudspeaker, as the card reports it."""


class Screen(Protocol):
    """The OLED."""

    def show(self, frame: Frame) -> None:
        """Show a picture; equal pictures are skipped. A dead panel never raises."""

    def dim(self, step: int) -> None:
        """Set the brightness, 1 to 5; steps beyond count as the nearest."""


class Panel(Protocol):
    """Keys, knob and pedals."""

    def start(self, post: Post, now: Now) -> None:
        """Begin to post KeyDown, KeyUp, KnobTurn, KnobDown, KnobUp, PedalDown and PedalUp."""

    def stop(self) -> None:
        """End; a second call does nothing."""


class StatusLight(Protocol):
    """One light that says how the box stands."""

    def start(self) -> None:
        """Light it; a box whose light can't be had goes on without."""

    def stop(self) -> None:
        """Put it out; a second call does nothing."""

    def show(self, lamp: Lamp) -> None:
        """Say something with it, from now on; never raises."""


class PowerKey(Protocol):
    """The key that stops the box cleanly."""

    def start(self, held: Callable[[], object]) -> None:
        """Begin to watch it; `held` is called once each time that it was held for long enough."""

    def stop(self) -> None:
        """Stop watching it; a second call does nothing."""


class Keyboard(Protocol):
    """MIDI keyboards and other instruments."""

    def start(self, post: Post, now: Now) -> None:
        """Begin to post NoteOn, NoteOff, SustainChanged and KeyboardChanged."""

    def stop(self) -> None:
        """End; a second call does nothing."""

    def send(self, message: bytes) -> None:
        """Send a message to all that are plugged in; never raises for one that has gone."""


class TakeFile(Protocol):
    """One take that is being written."""

    def write(self, samples: Samples) -> None:
        """Add samples, shape (n,) or (n, channels); raises DeviceError when the stick refuses."""

    def sync(self) -> None:
        """Make what was written safe against a power cut; raises DeviceError when it is not."""

    def close(self) -> int:
        """Finish the file, make it safe and say how many samples it holds."""


class Stick(Protocol):
    """The KEELNOTE folder of a USB stick. Paths are relative to it, with forward slashes."""

    @property
    def present(self) -> bool:
        """Whether it can be used now."""

    def trouble(self) -> str:
        """Name of the line in `firmware.messages` that says what is wrong with it, empty if nothing is."""

    def release(self) -> None:
        """Let it go, so that it may be pulled; raises DeviceError when something still uses it."""

    def odd(self) -> tuple[str, ...]:
        """Names of the box's own files and folders that something of another kind has."""

    def mend(self) -> tuple[str, ...]:
        """Give takes that were cut off their length back, and name them."""

    def free_bytes(self) -> int:
        """Room left; 0 when absent."""

    def open_take(self, path: str, channels: int = 1) -> TakeFile:
        """Begin a 24-bit FLAC of one or two channels; never replaces a file that is there."""

    def read_take(self, path: str, first: int, count: int) -> Samples:
        """At most `count` samples of a take from sample `first`, over all its parts; fewer at its end."""

    def part_length(self, path: str) -> int:
        """Samples in one file of a take, which is mended if it was cut off; 0 if there is none in it."""

    def write_text(self, path: str, text: str) -> None:
        """Replace a small file so that a power cut leaves the old one or the new one, whole."""

    def append_line(self, path: str, line: str) -> None:
        """Add a line to a file, made if need be."""

    def read_text(self, path: str) -> str | None:
        """Text of a file, None if there is none."""

    def read_bytes(self, path: str, most: int) -> bytes | None:
        """The first `most` bytes of a file, None if there is none."""

    def remove(self, path: str) -> bool:
        """Delete a file for good; false if there was none."""

    def names(self, folder: str) -> tuple[str, ...]:
        """Sorted names in a folder; none if it is absent."""
