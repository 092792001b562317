"""Onsets of the players, from the microphone stream, while the box's own click sounds in it.

What "the onset" means is defined in `firmware.hearing.onsets_attack`.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.events import Onset
from firmware.hearing.ear import tidy
from firmware.hearing.filters import Decimator, Signal
from firmware.hearing.onsets_attack import ATTACK_SECONDS, FRAME, attack_near, new_sound
from firmware.hearing.onsets_own import SECTION, OwnPath
from firmware.hearing.onsets_rise import HOP, WINDOW, WINDOW_SHAPE, Rise
from firmware.units import RATE, Samples, db_of

FACTOR: Final = 2

LEAST_RISE: Final = 0.4
"""Mean rise of all bands in dB that a note must bring."""

OVER_MEAN: Final = 0.3
"""And by so much it must stand out of the mean rise of the time around it, in dB."""

AROUND: Final = 24
"""Frames of that time before it: 128 ms."""

APART: Final = 6
"""Frames to each side within which there is one onset only: 32 ms."""

BEFORE: Final = 3072
AFTER: Final = 3072
"""Samples before and after a rise in which the attack is looked for."""

WAIT: Final = AFTER // HOP
"""Frames by which the judgement lags."""

CENTRE: Final = WINDOW // 2 - HOP
"""Samples from the centre of a frame to the first sample of its last hop."""

HIDING: Final = 6.0
"""What may be left of own sound is gathered in a few of the frames of a section."""

LEAST_WEIGHT: Final = 0.1
"""Rise in dB times amplitude of the new sound against the loudest around it; a small rise must be loud, and a soft
note must rise in many bands."""

LEAST_SHARE: Final = 0.02
"""What is new must be so loud at least."""

LATE: Final = 240
"""Samples by which an onset may lie before its rise."""


class Onsets:
    """Finds where players begin notes.

    Parameters
    ----------
    rate : int
        Samples per second of the stream; it is listened to at half of it.
    path : OwnPath or None
        What is known already of the path from the box to the microphone.

    Attributes
    ----------
    path : OwnPath
        The path as it is known by now.

    Notes
    -----
    The box's own sound is taken out (`OwnPath`); what may be left of it hides nothing but itself. A rise of the
    spectrum says that a note began, its attack when. An onset is told about a third of a second after it.
    """

    def __init__(self, rate: int = RATE, path: OwnPath | None = None) -> None:
        self._rate = rate / FACTOR
        self._mic_slow, self._own_slow = Decimator(FACTOR), Decimator(FACTOR)
        self.path = path or OwnPath()
        self._rise = Rise(self._rate)
        self._mics: Signal = np.zeros(0)
        self._owns: Signal = np.zeros(0)
        self._rest: Signal = np.zeros(BEFORE + WAIT * HOP)
        self._rises: Signal = np.zeros(AROUND + WAIT)
        self._sections = 0
        self._last = -RATE

    def process(self, mic: Samples, own: Samples) -> tuple[Onset, ...]:
        """Hear a block.

        Parameters
        ----------
        mic, own : Samples
            Microphone, and what the box played at the same sample counts, each shape (n,).

        Returns
        -------
        tuple of Onset
            Onsets that became certain with this block, in order.

        Raises
        ------
        ValueError
            If the blocks differ in length.
        """
        if len(mic) != len(own):
            message = f"microphone and own sound must be equally long, not {len(mic)} and {len(own)} samples"
            raise ValueError(message)
        self._mics = np.concatenate([self._mics, self._mic_slow.process(tidy(mic))])
        self._owns = np.concatenate([self._owns, self._own_slow.process(tidy(own))])
        found: list[Onset] = []
        while len(self._mics) >= SECTION:
            found += self._section(self._mics[:SECTION], self._owns[:SECTION])
            self._mics, self._owns = self._mics[SECTION:], self._owns[SECTION:]
        return tuple(found)

    def _section(self, mic: Signal, own: Signal) -> list[Onset]:
        """Take in a section of the slow stream; the onsets that became certain."""
        rest, _ = self.path.remove(mic, own)
        self._sections += 1
        self._rest = np.concatenate([self._rest, rest])[-(BEFORE + WAIT * HOP + SECTION) :]
        rises = self._rise.process(rest, HIDING * _per_frame(self.path.hidden()))
        self._rises = np.concatenate([self._rises, rises])[-(AROUND + WAIT + len(rises)) :]
        found = []
        for frame in peaks(self._rises):
            onset = self._attack(BEFORE + (frame - AROUND) * HOP - CENTRE, float(self._rises[frame]))
            if onset is not None and onset.at - self._last > APART * HOP * FACTOR:
                found.append(onset)
                self._last = onset.at
        return found

    def _attack(self, about: int, rise: float) -> Onset | None:
        """Find the attack of a note that began about a sample of `_rest`."""
        low = about - LATE - FRAME * 8
        around = self._rest[max(0, low) : about + AFTER]

        about -= max(0, low)
        fresh = new_sound(around, about, LATE)
        exact = attack_near(fresh, about, LATE, self._rate)
        loud = float(np.abs(fresh[exact : exact + round(ATTACK_SECONDS * self._rate)]).max(initial=0.0))
        share = loud / float(np.abs(around).max(initial=1e-9))
        if share < LEAST_SHARE or share * rise < LEAST_WEIGHT:
            return None
        first = self._sections * SECTION - len(self._rest) + max(0, low)
        late = self.path.late()
        return Onset((first + exact) * FACTOR - self._mic_slow.delay, db_of(loud), (late or 0) * FACTOR)


def _per_frame(power: Signal) -> Signal:
    """Power of the bins of a frame, from that of a half-filled section."""
    step = 2 * SECTION // WINDOW
    means = np.add.reduceat(power, np.arange(0, len(power), step)) / step
    result: Signal = means * float(WINDOW_SHAPE @ WINDOW_SHAPE) / SECTION
    return result


def peaks(rises: Signal) -> list[int]:
    """Frames at which a note began.

    Parameters
    ----------
    rises : Signal
        Rises in dB, shape (AROUND + n + WAIT,); the n frames are judged.

    Returns
    -------
    list of int
        Indexes into `rises`.
    """
    found = []
    for frame in range(AROUND, len(rises) - WAIT):
        rise = rises[frame]
        if (
            rise < LEAST_RISE
            or rise < rises[frame - APART : frame].max()
            or rise <= rises[frame + 1 : frame + APART + 1].max()
        ):
            continue
        if rise >= OVER_MEAN + rises[frame - AROUND : frame + APART].mean():
            found.append(frame)
    return found
