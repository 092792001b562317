"""What happens to the stick, the takes and their replay, as frozen values. `at` is a sample count."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.events import Event


@dataclass(frozen=True, slots=True)
class StickChanged(Event):
    """The USB stick came, went or changed; `why` names a line in `firmware.messages` when it can't be used."""

    present: bool
    free_bytes: int = 0
    why: str = ""


@dataclass(frozen=True, slots=True)
class TakeSaved(Event):
    """A take is closed and safe on the stick."""

    number: int
    samples: int


@dataclass(frozen=True, slots=True)
class ReplayEnded(Event):
    """The replay reached the end of its take."""


@dataclass(frozen=True, slots=True)
class TakeStarted(Event):
    """A take runs; its first sample is `first`, before `at` by the pre-roll."""

    number: int
    first: int


@dataclass(frozen=True, slots=True)
class TakeStopped(Event):
    """A take was stopped; markers are (seconds into the take, title)."""

    number: int
    seconds: float
    markers: tuple[tuple[float, str], ...]
