"""What happens in a drill, as frozen values. `at` is a sample count."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.events import Event


@dataclass(frozen=True, slots=True)
class DrillWished(Event):
    """A step of the plan asks for a drill, by its name."""

    drill: str


@dataclass(frozen=True, slots=True)
class DrillBegan(Event):
    """A drill began for a group; `kind` says what is asked, `listens` whether the ear is needed for it."""

    drill: str
    group: str
    kind: str
    rounds: int
    listens: bool = False


@dataclass(frozen=True, slots=True)
class DrillSounds(Event):
    """From now on these tones sound in the place of the drone's, each (Hz, dB); None gives the drone its own again."""

    tones: tuple[tuple[float, float], ...] | None


@dataclass(frozen=True, slots=True)
class DrillRound(Event):
    """A round of a drill was answered: the round's number, its degree, where it began and how far off it ended.

    Both in cents from just, or in dB from the level that is aimed at; `seconds` is how long it took. Of a round with a
    right and a wrong, `said` is the answer and `right` whether it was that.
    """

    drill: str
    group: str
    kind: str
    number: int
    degree: str
    began: float
    off: float | None
    seconds: float
    beats: float | None = None
    said: str = ""
    right: bool | None = None


@dataclass(frozen=True, slots=True)
class DrillEnded(Event):
    """A drill is over after so many answered rounds; `whole` if none was left."""

    drill: str
    group: str
    rounds: int
    whole: bool
