"""Takes the box's own sound out of the microphone: fits its lines as the room returns them, and subtracts."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.hearing.line_bank import LineBank
from firmware.hearing.lines import Phasors
from firmware.hearing.own_doubt import Doubt, remnant
from firmware.hearing.own_fit import MEMORY_HOPS, Hops, fitted
from firmware.hearing.own_leak import Leak
from firmware.hearing.own_lines import QUIET, OwnLines
from firmware.hearing.own_room import RoomPath
from firmware.hearing.own_taken import Taken, gain_at

RING_SECONDS: Final = 1.8
"""How long the room may ring after own sound that is not in the lines: 80 dB at a reverberation time of 1.2 s less the
longest delay of 0.15 s."""

FIT_HOPS: Final = 5
SETTLE_SECONDS: Final = 0.7
"""From the start of steady own sound until the microphone's lines are fitted: delay and most of the room's build-up."""

PROVE_SECONDS: Final = 0.2
"""The ear's longest window must hold nothing that was not cleaned."""

FIRST_FOLLOW_SECONDS: Final = 1.5
FOLLOW_SECONDS: Final = 4.0
"""Time constant with which the fit follows the room while nobody plays."""

HEALED_SECONDS: Final = 8.0
"""Lines that were followed for so long hold nothing of a player any more, whatever the fit has taken."""

NEAR_HZ: Final = 6.5
"""A partial this close to an own line can't be told from it in the ear's longest window."""

COHERENT_HOPS: Final = 12

RINGING: Final = 1e-3
"""Own sound besides its lines that is weaker than they by 30 dB may be left to the prediction."""

BAND_HZ: Final[Signal] = np.geomspace(80.0, 2_500.0, 16).astype(np.float64)
"""Where players have most of their sound."""

TRUSTED: Final = 0.01
"""The room check is trusted by itself while the last fit found less than this share of the power, -20 dB, left."""

LEAST_OVER_OWN: Final = 10 ** (-12 / 10)
"""Whoever is heard on own lines must be stronger than what was removed less 12 dB, which fitted lines always reach."""

MORE_THAN_LEFT: Final = 10.0
"""A fit that finds so many times what the prediction should have left has found a player, if one was there before."""

LEAST_OVER_LEFT: Final = 10 ** (20 / 10)
"""Where own sound was predicted, a player must be 20 dB over what the prediction leaves: he is then read to a cent."""

OVER_SHOWN: Final = 10 ** (6 / 10)
OVER_SHOWN_OF_MUSIC: Final = 10 ** (16 / 10)
"""Some lines, and some notes of a replay, are left by so much more than the share of all that has shown itself."""


@dataclass(slots=True)
class _Room:
    """The lines as the microphone has them, since which hop, what was left on them, for how many hops followed."""

    phasors: Phasors
    since: int
    left: deque[Phasors]
    followed: int = 0


class OwnSound:
    """Follows the box's own sound on its way to the microphone.

    Parameters
    ----------
    rate : float
        Samples per second of the slow stream.
    hop : int
        Samples that come at a time.

    Notes
    -----
    Own sound is free of noise, so its lines are found there. What the room makes of each line is a cosine and a sine,
    fitted at the microphone by least squares in a stretch whose two halves agree, that is without a player on a line.
    Until then, and for as long as the room may ring after anything else that the box played, `known` is False.

    Once the room check has learned the way through the room, everything that the box plays is predicted and taken out
    first, whatever it is, and is known at once; the lines are then fitted to the little that this leaves.

    Attributes
    ----------
    prediction : Signal or None
        What the room check made of the last hop of own sound.
    late_sd : float
        Seconds by which own sound may come early or late, as far as the clocks are known.
    """

    def __init__(self, rate: float, hop: int) -> None:
        self._rate = rate
        self._hop = hop
        self._index = 0
        self._mics: deque[Signal] = deque(maxlen=MEMORY_HOPS)
        self._lines = OwnLines(rate, hop)
        self._disturbed = -self._hops(RING_SECONDS)
        self._hops_of_mic: Hops | None = None
        self._room: _Room | None = None
        self._path: RoomPath | None = None
        self._learned = 0
        self._leak = 0.0
        self._shown = Leak()
        self._taken = Taken(rate, hop)
        self.prediction: Signal | None = None
        self.late_sd = 0.0
        self._doubt = Doubt(-MEMORY_HOPS)

    def _hops(self, seconds: float) -> int:
        return max(1, round(seconds * self._rate / self._hop))

    @property
    def known(self) -> bool:
        """Whether what is left of the microphone is free of own sound."""
        if self.predicted and self._index - self._learned > self._hops(PROVE_SECONDS):
            return True
        if self._lines.bank is None:
            return self._index - self._disturbed > self._hops(RING_SECONDS)
        return self._room is not None and self._index - self._room.since > self._hops(PROVE_SECONDS)

    @property
    def predicted(self) -> bool:
        """Whether own sound is predicted well enough to be known even where it is not steady."""
        return self._path is not None and self._leak < TRUSTED

    def learn(self, path: RoomPath, played: Sequence[Signal]) -> None:
        """Predict own sound by a path from now on.

        Parameters
        ----------
        path : RoomPath
            The way through the room.
        played : sequence of arrays of shape (hop,)
            The last `path.hops` hops of own sound, as the path wants it.
        """
        for hop in played:
            path.process(hop)
        self._forget(self._index)
        self._lines.remember(played)
        # What the microphone had before is not known as it will be from now on, so no fit may use it.
        self._mics = deque([np.zeros(self._hop)] * self._lines.hops, maxlen=MEMORY_HOPS)
        self._path, self._learned = path, self._index
        self._leak = 0.0
        self._shown = Leak()

    @property
    def steady(self) -> bool:
        """Whether own sound is steady and has filled the room."""
        settled = self._index - self._lines.steady_from > self._hops(SETTLE_SECONDS)
        return self._lines.bank is not None and not self._lines.astray and settled

    def begin_anew(self, played: Sequence[Signal]) -> None:
        """Find lines and fit anew: the last hops of own sound are these on the microphone's clock as known now."""
        self._forget(self._index)
        self._lines.remember(list(played)[-self._lines.hops :])

    def fall_back(self, samples: int) -> None:
        """Own sound comes later by so many samples from now on."""
        if self._path is not None:
            self._path = self.prediction = None
            self._forget(self._index)
        else:
            self._lines.come_later(samples)

    def remove(
        self, mic: Signal, own: Signal, *, player: bool, hz: float | None = None, rests: bool | None = None
    ) -> Signal:
        """Take own sound out of one hop.

        Parameters
        ----------
        mic, own : Signal
            One hop each, shape (hop,).
        player : bool
            Whether something harmonic was there in the hops before.
        hz : float or None
            The pitch that was read last.
        rests : bool or None
            Whether the fit rests because players sound; None for the same as `player`.

        Returns
        -------
        Signal
            Microphone less own sound, shape (hop,).
        """
        whole, index = mic, self._index
        self._index += 1
        if self._path is not None:
            self.prediction = self._path.process(own)
            mic = mic - self.prediction
            self._shown.add(mic, self.prediction, fitted=self._exact)
        self._lines.add(own)
        self._mics.append(mic)
        if player:
            self._doubt.player(index, hz)
        if self._lines.bank is not None:
            self._follow_own(self._lines.bank, index)
        if self._lines.bank is None:
            self._search(own, index)
        else:
            mic = self._clean(self._lines.bank, mic, index, rests=player if rests is None else rests)
        if self._path is not None:
            self._taken.add(whole - mic)
        return mic

    def bound(self) -> float:
        """Mean power that own sound may still have at the microphone, apart from its fitted lines."""
        power = 0.0
        if self._room is not None:
            heard = float((np.abs(self._room.phasors) ** 2).sum())
            power = self._lines.transients.power(heard / self._lines.power)
        if self._path is not None and not self._exact:
            power += self._taken.power * float(self._left_of(BAND_HZ).mean())
        return power

    def coincident(self, hz: NDArray[np.float64], gains: Signal | None = None) -> NDArray[np.float64]:
        """Power that was removed within `NEAR_HZ` of each frequency, shape like `hz`; zero where no own line is."""
        if self._path is not None:
            power = self._taken.near(hz, NEAR_HZ)
            return power if gains is None else power * gain_at(hz, gains, self._rate)
        if self._lines.bank is None or self._room is None:
            return np.zeros(len(hz))
        lines = self._lines.hz
        power = np.abs(self._room.phasors) ** 2 / 2
        if gains is not None:
            power = power * gain_at(lines, gains, self._rate)
        near = np.abs(hz[:, None] - lines) < NEAR_HZ
        out: NDArray[np.float64] = near @ power
        return out

    def least(self, hz: NDArray[np.float64], removed: NDArray[np.float64], gains: Signal) -> NDArray[np.float64]:
        """Power that a player must have, given what was removed near each of some frequencies, shape like `hz`."""
        share = np.full(len(hz), LEAST_OVER_OWN)
        if self._path is not None and not self._exact:
            share = np.maximum(share, LEAST_OVER_LEFT * self._left_of(hz))
        return np.maximum(share * removed, self.left_at_most(hz, removed, gains))

    def left_at_most(self, hz: NDArray[np.float64], removed: NDArray[np.float64], gains: Signal) -> NDArray[np.float64]:
        """Power that may be left of own sound near some frequencies, given what was removed there, shape like `hz`.

        That is what has shown itself since the room check, in which somebody may have moved the microphone.
        """
        if self._path is None or self._exact:
            return np.zeros(len(hz))
        # Where the room took a line away when it was checked, it may now be as loud as those beside it.
        if self._lines.bank is None:
            usual = self._path.usual(hz, NEAR_HZ, self._rate) * gain_at(hz, gains, self._rate)
            return OVER_SHOWN_OF_MUSIC * self._shown.share * np.maximum(removed, usual)
        near = np.abs(hz[:, None] - self._lines.hz) < NEAR_HZ
        white = gain_at(self._lines.hz, gains, self._rate)
        usual = near @ (white * self._expected()) / 2
        return OVER_SHOWN * self._shown.share * np.maximum(removed, usual)

    @property
    def _exact(self) -> bool:
        """Whether all that sounds, and that still may ring, are fitted lines."""
        return self._room is not None and self._lines.transients.power(1.0) < RINGING * self._lines.power

    def _left_of(self, hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Share of predicted own sound that is left, as the room check expects it or as a fit has found since."""
        if self._path is None:
            return np.zeros(len(hz))
        return np.maximum(self._path.leak_at(hz), self._leak) + (2 * np.pi * hz * self.late_sd) ** 2

    def _expected(self) -> NDArray[np.float64]:
        """Squared amplitude that the prediction gives each line at the microphone."""
        hz = self._lines.hz
        return np.zeros(len(hz)) if self._path is None else np.abs(self._lines.phasors) ** 2 * self._path.gain_at(hz)

    def doubts(self, hz: float) -> bool:
        """Whether a pitch may be left over from a player who was there when the lines were fitted."""
        return (self._path is None or self._room is not None) and self._doubt.of(hz)

    def remnant(self, hz: float) -> bool:
        """Whether a pitch is a high multiple of our lowest line: what a player leaves whose low partials we took."""
        return self._lines.bank is not None and remnant(hz, float(self._lines.hz[0]), NEAR_HZ / 2)

    def coherence(self, hz: NDArray[np.float64]) -> float:
        """How much of what is left on the lines near `hz` stands still against own sound, 0 to 1.

        A misfit of ours stands still exactly; a player drifts. 1 while there is too little to judge.
        """
        if self._lines.bank is None or self._room is None or len(self._room.left) < COHERENT_HOPS:
            return 1.0
        lines = self._lines.hz
        near = (np.abs(hz[:, None] - lines) < NEAR_HZ).any(axis=0)
        left = np.array(self._room.left)[:, near]
        total = float((np.abs(left).sum(axis=0) ** 2).sum())
        return float((np.abs(left.sum(axis=0)) ** 2).sum()) / total if total > 0 else 1.0

    def _follow_own(self, bank: LineBank, index: int) -> None:
        """Follow own sound; what the room makes of a line turns and grows with it."""
        turn = self._lines.follow(bank, index)
        if self._lines.bank is None:
            self._forget(index)
        elif turn is not None and self._room is not None:
            self._room.phasors = self._room.phasors * np.where(np.abs(turn - 1) < 0.1, turn, 1.0)

    def _forget(self, index: int) -> None:
        self._disturbed = index
        self._lines.forget()
        self._room = None
        self._hops_of_mic = None

    def _search(self, own: Signal, index: int) -> None:
        """Look for lines while own sound is there; with new ones, the microphone is fitted from where they began."""
        if float(np.abs(own).max(initial=0.0)) <= QUIET:
            return
        self._disturbed = index
        if not self._lines.search(index, self._learned) or self._lines.bank is None:
            return
        since = self._lines.steady_from
        self._doubt.begin(self._lines.hz, since, self._hops(RING_SECONDS))
        self._hops_of_mic = Hops(self._lines.bank)
        first = index + 1 - len(self._mics)
        for i in range(since, index):
            self._hops_of_mic.add(self._mics[i - first], i)

    def _clean(self, bank: LineBank, mic: Signal, index: int, *, rests: bool) -> Signal:
        if self._room is None:
            self._try_fit(mic, index)
            return mic
        room = self._room
        rest = mic - bank.predict(room.phasors, index)
        left = 2 / self._hop * bank.project(rest) * np.conj(bank.turned(index))
        room.left.append(left)
        if not rests and not self._lines.astray and self.known:
            seconds = (index - room.since) * self._hop / self._rate
            gain = self._hop / (min(FOLLOW_SECONDS, FIRST_FOLLOW_SECONDS + seconds) * self._rate)
            room.phasors = room.phasors + gain * left
            room.followed += 1
            if room.followed > self._hops(HEALED_SECONDS):
                self._doubt.lasts = False
        return rest

    def _try_fit(self, mic: Signal, index: int) -> None:
        """Fit the microphone's lines if the stretch since own sound became steady allows it."""
        hops = self._hops_of_mic
        if hops is None or self._lines.astray:
            return
        hops.add(mic, index)
        if index % FIT_HOPS:
            return
        phasors = fitted(hops, self._lines.steady_from + self._hops(SETTLE_SECONDS), self._rate)
        if phasors is None:
            return
        if self._path is not None:
            expected = self._expected()
            found = float((np.abs(phasors) ** 2).sum())
            if self._doubt.lasts and found > MORE_THAN_LEFT * float(expected @ self._left_of(self._lines.hz)):
                return
            self._doubt.lasts = False
            self._leak = found / max(float(expected.sum()), 1e-30)
        self._room = _Room(phasors, index, deque(maxlen=COHERENT_HOPS))
