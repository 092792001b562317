"""What the self-test is told by the hardware, as events."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.events import Event
from firmware.units import Samples


@dataclass(frozen=True, slots=True)
class LineChanged(Event):
    """A contact closed or opened, bounces and all; a line that is closed at the start says so first."""

    line: str
    closed: bool


@dataclass(frozen=True, slots=True)
class Probe:
    """How a line reads with the processor's pull-up, and with its pull-down: what stands against either is outside."""

    line: str
    high_pulled_up: bool
    high_pulled_down: bool


@dataclass(frozen=True, slots=True)
class LinesProbed(Event):
    """How every line reads."""

    probes: tuple[Probe, ...]


@dataclass(frozen=True, slots=True)
class BusScanned(Event):
    """Who answered on the I2C bus; seconds for a picture, None if none went through; `error` if there is no bus."""

    addresses: tuple[int, ...]
    frame_seconds: float | None = None
    error: str = ""


@dataclass(frozen=True, slots=True)
class StickMeasured(Event):
    """How fast the stick took a file; `trouble` names its state as `firmware.ports.Stick.trouble` does."""

    trouble: str
    free_bytes: int = 0
    bytes_per_second: float = 0.0
    longest_seconds: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class SoundRecorded(Event):
    """What the microphone heard of the test sound, shape (n,) both; blocks that were lost; `error` without a card."""

    mic: Samples
    own: Samples
    lost: int = 0
    error: str = ""


@dataclass(frozen=True, slots=True)
class SupplyRead(Event):
    """Whether the supply is or was too low since power-on; None where nothing measures it. Degrees Celsius."""

    low_now: bool | None
    low_before: bool | None
    celsius: float | None = None


@dataclass(frozen=True, slots=True)
class ClockRead(Event):
    """Whether the clock chip answers, and whether it has gone on since it was set."""

    there: bool
    running: bool


@dataclass(frozen=True, slots=True)
class KeyboardsFound(Event):
    """Names of the MIDI keyboards that are there; (name, error) of those that can't be opened; why there is no MIDI."""

    names: tuple[str, ...]
    refused: tuple[tuple[str, str], ...] = ()
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Passed(Event):
    """Time passed."""
