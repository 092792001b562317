"""What a drill is: questions to a class, how each sounds, how it is answered, and what is kept of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from firmware.music.harmony import Harmony
from firmware.units import RATE

Tone = tuple[float, float]
"""Exact frequency in Hz, and level in dB relative to a root."""


class Answer(StrEnum):
    """What the class says."""

    NOW = "now"
    JUST = "just"
    EQUAL = "equal"


class Phase(StrEnum):
    """Where a round stands."""

    CALL = "call"
    """The box sounds what is to be taken over."""
    OPEN = "open"
    TOLD = "told"
    PAUSE = "pause"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class Task:
    """What a drill is begun with.

    Parameters
    ----------
    harmony : Harmony
        The key, in just intonation and without any chord of a progression.
    seed : int
        The same seed draws the same rounds.
    degree : int
        Degree of the scale that is drilled, 2 to 7.
    rounds : int
        How many, where the drill does not say so itself.
    by : str
        Whether the "knob" or a "player" moves the degree.
    within, seconds : float
        Cents within which a player must stay, and for how long.
    """

    harmony: Harmony
    seed: int
    degree: int = 3
    rounds: int = 6
    by: str = "knob"
    within: float = 10.0
    seconds: float = 3.0


@dataclass(frozen=True, slots=True)
class Asked:
    """One round as drawn: a degree in semitones above the tonic, and where it begins (cents, dB, or 1 for just)."""

    semitones: int
    begins: float = 0.0


@dataclass(frozen=True, slots=True)
class Round:
    """What came of a round; `off` is in cents from just, or in dB from the level that is aimed at.

    `right` is None where there is no right and wrong, `seconds` is how long the class took.
    """

    semitones: int
    began: float
    off: float | None
    seconds: float
    beats: float | None = None
    said: str = ""
    right: bool | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """A drill under way.

    Parameters
    ----------
    place : int
        Number of the round that is asked, from 0.
    since : int
        Sample on which the phase began.
    value : float
        Where the degree stands now, in the unit of `Asked.begins`.
    heard : tuple of (int, float)
        Readings of the round: sample, and cents from the target.
    held : int or None
        Sample since which a player has stayed close.
    """

    drill: Drill
    task: Task
    asked: tuple[Asked, ...]
    place: int = 0
    phase: Phase = Phase.CALL
    since: int = 0
    value: float = 0.0
    heard: tuple[tuple[int, float], ...] = ()
    held: int | None = None
    rounds: tuple[Round, ...] = ()

    @property
    def question(self) -> Asked:
        """The round that is asked."""
        return self.asked[self.place]

    def seconds(self, at: int) -> float:
        """How long the phase has lasted at a sample."""
        return max(at - self.since, 0) / RATE


def no_call(_task: Task) -> float:
    """No time in which the box sounds something to be taken over."""
    return 0.0


def nothing_heard(_run: Run, _at: int) -> Round | None:
    """Readings that decide nothing."""
    return None


def by_nobody(_task: Task) -> bool:
    """Whether the ear is needed: it is not."""
    return False


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill, as functions of a run.

    Parameters
    ----------
    name : str
        As it stands in files.
    draws : function
        The rounds of a task.
    kind : function
        In words what is asked, so that only the like is compared.
    tones : function
        What sounds now.
    asks : function
        Words while the class listens, large and small; nothing in them gives the answer away.
    tells : function
        The same when the class has answered.
    judges : function
        The round that an answer at a sample ends, None if it can't.
    sums : function
        What came of all rounds, large and small.
    hears : function
        The round that readings end, None if they don't.
    listens : function
        Whether the ear is needed.
    call : function
        Seconds for which the box sounds what is to be taken over.
    told, pause : float
        Seconds in which the round is told, and until the next one.
    detent, low, high : float
        How far the knob moves the degree, and between what.
    names_note : bool
        Whether the screen names the degree that is asked.
    """

    name: str
    draws: Callable[[Task], tuple[Asked, ...]]
    kind: Callable[[Task], str]
    tones: Callable[[Run], tuple[Tone, ...]]
    asks: Callable[[Run], tuple[str, str]]
    tells: Callable[[Run], tuple[str, str]]
    judges: Callable[[Run, Answer, int], Round | None]
    sums: Callable[[Run], tuple[str, str]]
    hears: Callable[[Run, int], Round | None] = nothing_heard
    listens: Callable[[Task], bool] = by_nobody
    call: Callable[[Task], float] = no_call
    told: float = 3.0
    pause: float = 0.8
    detent: float = 0.0
    low: float = 0.0
    high: float = 0.0
    names_note: bool = False
