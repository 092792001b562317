"""The lines of our own steady sound, found and followed where there is no noise: in what the box plays."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal
from firmware.hearing.line_bank import LineBank
from firmware.hearing.lines import SPANS, Phasors, find_lines
from firmware.hearing.own_fit import ASTRAY, MEMORY_HOPS, steady_since
from firmware.hearing.transients import Transients

QUIET: Final = 1e-5
"""Own sound under this (full scale is 1) is silence."""

ASTRAY_SECONDS: Final = 0.32
"""A click is over by then; own sound that stays astray for longer has changed."""

SEARCH_HOPS: Final = 2
LEAST_STEADY_HOPS: Final = 5
FOLLOW_SECONDS: Final = 0.5


class OwnLines:
    """Finds the lines of own sound, follows them, and gives them up when own sound is another.

    Parameters
    ----------
    rate : float
        Samples per second of the slow stream.
    hop : int
        Samples that come at a time.

    Attributes
    ----------
    bank : LineBank or None
        The lines, None while there are none.
    phasors : Phasors
        Amplitude and phase of each.
    steady_from : int
        Hop from which own sound has been these lines.
    astray : bool
        Whether the newest hop is something else besides, as a click is.
    transients : Transients
        What there was of that.
    """

    def __init__(self, rate: float, hop: int) -> None:
        self._rate = rate
        self._hop = hop
        self._owns: deque[Signal] = deque(maxlen=MEMORY_HOPS)
        self._not_before = 0
        self._astray_since: int | None = None
        self.bank: LineBank | None = None
        self.phasors: Phasors = np.zeros(0, np.complex128)
        self.steady_from = 0
        self.transients = Transients(hop / rate)

    @property
    def astray(self) -> bool:
        """Whether the newest hop is something else besides the lines."""
        return self._astray_since is not None

    @property
    def hz(self) -> Signal:
        """Frequencies of the lines, shape (lines,)."""
        return np.zeros(0) if self.bank is None else self.bank.omega * self._rate / (2 * np.pi)

    @property
    def power(self) -> float:
        """Sum of the squared amplitudes."""
        return float((np.abs(self.phasors) ** 2).sum())

    @property
    def hops(self) -> int:
        """How many hops of own sound are remembered."""
        return len(self._owns)

    def remember(self, played: Sequence[Signal]) -> None:
        """Take these for the last hops of own sound, each of shape (hop,), and begin anew."""
        self.forget()
        self._owns = deque(played, maxlen=MEMORY_HOPS)

    def forget(self) -> None:
        """Give the lines up."""
        self.bank = None
        self._astray_since = None

    def come_later(self, samples: int) -> None:
        """Own sound comes later by so many samples: steady lines are the same, but for their phase."""
        if self.bank is not None:
            self.phasors = self.phasors * np.exp(-1j * samples * self.bank.omega)

    def add(self, own: Signal) -> None:
        """Remember a hop, shape (hop,)."""
        self._owns.append(own)

    def follow(self, bank: LineBank, index: int) -> Phasors | None:
        """Compare the newest hop, which is the `index`-th, with the lines; follow it, or give the lines up.

        Returns
        -------
        Phasors or None
            By how much each line has turned and grown, as a factor; None when the hop is astray.
        """
        own = self._owns[-1]
        line = bank.predict(self.phasors, index)
        rest = own - line
        self.transients.add(float(rest @ rest) / self._hop)
        if float(rest @ rest) > ASTRAY * float(line @ line):
            self._astray_since = index if self._astray_since is None else self._astray_since
            if index - self._astray_since >= self._astray_hops:
                self.forget()
            return None
        self._astray_since = None
        gain = self._hop / (FOLLOW_SECONDS * self._rate)
        change = gain * 2 / self._hop * bank.project(rest) * np.conj(bank.turned(index))
        turn: Phasors = 1 + change / np.where(np.abs(self.phasors) > 0, self.phasors, 1.0)
        self.phasors = self.phasors + change
        return turn

    @property
    def _astray_hops(self) -> int:
        return max(1, round(ASTRAY_SECONDS * self._rate / self._hop))

    def search(self, index: int, learned: int) -> bool:
        """Look for lines now and then in what sounds since hop `learned`; whether there are new ones."""
        if index % SEARCH_HOPS or index < self._not_before:
            return False
        stretch = np.concatenate(list(self._owns)[-(max(SPANS) // self._hop + 1) :])
        for span in SPANS:
            hz = find_lines(stretch[-span:], self._rate) if len(stretch) >= span else None
            if hz is not None and len(hz):
                return self._take_up(LineBank(2 * np.pi * hz / self._rate, self._hop), index, span, learned)
        return False

    def _take_up(self, bank: LineBank, index: int, span: int, learned: int) -> bool:
        """Fit own sound with new lines, and see since when it has been like this."""
        first = index + 1 - len(self._owns)
        recent = np.arange(index + 1 - span // self._hop, index + 1)
        projections = np.array([bank.project(self._owns[i - first]) for i in recent])
        phasors = bank.fit(projections, recent, np.ones(len(recent)))
        since = max(learned, steady_since(bank, phasors, self._owns, index, self._astray_hops))
        if index + 1 - since < LEAST_STEADY_HOPS:
            self._not_before = since + LEAST_STEADY_HOPS - 1
            return False
        self.bank, self.phasors, self.steady_from = bank, phasors, since
        self.transients = Transients(self._hop / self._rate)
        return True
