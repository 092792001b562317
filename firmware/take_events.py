"""What happens to the stick, the takes and their replay, as frozen values. `at` is a sample count."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.events import Event
from firmware.passage import Passage


@dataclass(frozen=True, slots=True)
class StickChanged(Event):
    """The USB stick came, went or changed; `why` names a line in `firmware.messages` when it can't be used."""

    present: bool
    free_bytes: int = 0
    why: str = ""


@dataclass(frozen=True, slots=True)
class TakeSaved(Event):
    """A take is closed and safe on the stick; `parts` are its files, each with its samples."""

    number: int
    samples: int
    parts: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class ReplayEnded(Event):
    """The replay `token` reached the end of its passage."""

    token: int = 0


@dataclass(frozen=True, slots=True)
class ReplayStarted(Event):
    """A passage of a take is replayed; the take began on sample `origin`. `heard`: the ear listens to it."""

    number: int
    origin: int
    passage: Passage
    heard: bool = False


@dataclass(frozen=True, slots=True)
class ReplayStopped(Event):
    """Nothing is replayed any more."""


@dataclass(frozen=True, slots=True)
class TakeMeasured(Event):
    """How loud a take is as a whole: LUFS (ITU-R BS.1770), None if there is nothing to hear; largest sample, 0 to 1."""

    number: int
    lufs: float | None
    peak: float


@dataclass(frozen=True, slots=True)
class MusicResumed(Event):
    """After a rest of so many seconds there is music again, since the sample `since`."""

    since: int
    rest_seconds: float


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


@dataclass(frozen=True, slots=True)
class DeletionWished(Event):
    """The chosen take shall be deleted for good, or all on the stick."""

    everything: bool = False


@dataclass(frozen=True, slots=True)
class TakesDeleted(Event):
    """Takes are gone from the stick: one of this rehearsal, or with number 0 all of them, `count` in all."""

    number: int
    count: int
