"""The lines of our own answers: which they are, for how long they may ring, and how they are taken out of a sound."""

from __future__ import annotations

from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.music.answer import answer_partials

RING_SECONDS: Final = 1.8
"""How long the room may ring after an answer: 80 dB at a reverberation time of 1.2 s, less the longest delay."""

TOP_HZ: Final = 5_400.0
"""Lines above this are not in the slow stream."""

MOST_RINGING: Final = 4
"""Answers that may ring at once; of more, the oldest are all but gone."""


class Sounding(Protocol):
    """The answer as the engine is asked for it."""

    @property
    def on(self) -> bool:
        """Whether it sounds."""

    @property
    def hz(self) -> float:
        """Target of the player, in Hz."""

    @property
    def octave(self) -> str:
        """In which octave it sounds."""


def lines_of(hz: float, octave: str) -> Signal:
    """Frequencies of the partials of an answer, in Hz, as far as the slow stream has them."""
    lines = np.array([hz * float(part.multiple) for part in answer_partials(octave)])
    return lines[lines < TOP_HZ]


def without_lines(sound: Signal, hz: Signal, rate: float) -> Signal:
    """Take lines out of a stretch of sound.

    Parameters
    ----------
    sound : Signal
        Shape (n,).
    hz : Signal
        Frequencies of the lines, shape (m,).
    rate : float
        Samples per second.

    Returns
    -------
    Signal
        What is left of the sound once cosine and sine of each line, their level free to change evenly over the stretch,
        are fitted by least squares and subtracted. What does not lie within about one over the stretch's length of a
        line stays as it was: a notch never moves a sinusoid.
    """
    if not len(hz):
        return sound
    count = len(sound)
    time = (np.arange(count) - (count - 1) / 2) / rate
    turns = np.exp(2j * np.pi * hz[:, None] * time)
    still: NDArray[np.float64] = np.concatenate([turns.real, turns.imag])
    basis = np.concatenate([still, still * (2 * time / (time[-1] + 1 / rate))])
    # Normal equations: the lines are far apart or, where two answers share one, the ridge keeps them solvable.
    gram = basis @ basis.T
    gram[np.diag_indices_from(gram)] += 1e-6 * count
    left: Signal = sound - np.linalg.solve(gram, basis @ sound) @ basis
    return left


class Ringing:
    """Which answers sound or may still ring.

    Parameters
    ----------
    hops : int
        For how many hops the room may ring.
    """

    def __init__(self, hops: int) -> None:
        self._hops = hops
        self._until: dict[tuple[float, str], int] = {}
        self._now = 0

    def step(self, answer: Sounding) -> None:
        """Go on by a hop in which this answer was asked for."""
        self._now += 1
        if answer.on:
            key = (answer.hz, answer.octave)
            self._until.pop(key, None)
            self._until[key] = self._now + self._hops
        newest = list(self._until.items())[-MOST_RINGING:]
        self._until = {key: until for key, until in newest if until > self._now}

    @property
    def any(self) -> bool:
        """Whether anything of ours may be heard."""
        return bool(self._until)

    def targets(self) -> tuple[float, ...]:
        """What these answers are answers to, in Hz, the newest first."""
        return tuple(reversed([hz for hz, _ in self._until]))

    def lines(self) -> Signal:
        """Frequencies of all lines that may be heard, each once, in Hz."""
        found = [lines_of(hz, octave) for hz, octave in self._until]
        return np.unique(np.concatenate(found)) if found else np.zeros(0)
