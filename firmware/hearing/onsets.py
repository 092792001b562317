"""Onsets of the players, from the microphone stream, while the box's own click sounds in it.

What "the onset" means is defined in `firmware.hearing.onsets_attack`.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.heard_events import Onset
from firmware.hearing.filters import Decimator, Signal
from firmware.hearing.onsets_attack import ATTACK_SECONDS, attack_near, new_sound
from firmware.hearing.onsets_own import SECTION
from firmware.hearing.onsets_paths import OwnPaths
from firmware.hearing.onsets_rise import HOP, WINDOW, WINDOW_SHAPE, Rise
from firmware.hearing.own_stream import tidy
from firmware.units import RATE, Samples, db_of

FACTOR: Final = 2

LEAST_RISE: Final = 0.3
"""Mean rise of all bands in dB that a note must bring."""

OVER_MEAN: Final = 0.15
"""And by so much it must stand out of the mean rise of the time around it, in dB."""

AROUND: Final = 24
"""Frames of that time before it: 128 ms."""

APART: Final = 6
"""Frames to each side within which there is one onset only: 32 ms."""

BEFORE: Final = 3072
AFTER: Final = 4608
"""Samples before and after a rise in which the attack is looked for."""

WAIT: Final = AFTER // HOP
"""Frames by which the judgement lags."""

CENTRE: Final = WINDOW // 2 - HOP
"""Samples from the centre of a frame to the first sample of its last hop."""

HIDING: Final = 6.0
"""What may be left of own sound is gathered in a few of the frames of a section."""

LEAST_EVIDENCE: Final = 1.3
"""Rise in dB times the factor by which the new sound is louder after the onset than before it."""

SOON: Final = 4320
"""Samples of the stream, 90 ms: a note that begins so soon after another must be plain, for attacks have stages."""

PLAIN_EVIDENCE: Final = 4.5
"""Evidence that makes it so."""

LEAST_SHARE: Final = 0.06
"""Amplitude of what is new, against all that sounds around the onset; less is the noise of a note's end."""

SOFTEST: Final = 36.0
"""A note so many dB softer than the loudest of late is none: what may be left of a click is."""

FORGETTING: Final = 3.0
"""dB per second by which the loudest is forgotten."""

NOTE: Final = 1200
"""Samples before and after an onset that are compared, 50 ms."""

LATE: Final = 240
"""Samples by which an onset may lie before its rise."""


class Onsets:
    """Finds where players begin notes.

    Parameters
    ----------
    rate : int
        Samples per second of the stream; it is listened to at half of it.
    path : OwnPaths or None
        What is known already of the paths from the box to the microphone.

    Attributes
    ----------
    path : OwnPaths
        The paths as they are known by now.

    Notes
    -----
    The box's own sound is taken out (`OwnPaths`); what may be left of it hides nothing but itself. A rise of the
    spectrum says that a note began, its attack when. An onset is told about half a second after it.
    """

    def __init__(self, rate: int = RATE, path: OwnPaths | None = None) -> None:
        self._rate = rate / FACTOR
        self._mic_slow, self._own_slow, self._struck_slow = (Decimator(FACTOR) for _ in range(3))
        self.path = path or OwnPaths()
        self._rise = Rise(self._rate)
        self._mics: Signal = np.zeros(0)
        self._owns: Signal = np.zeros(0)
        self._strucks: Signal | None = None
        self._rest: Signal = np.zeros(BEFORE + WAIT * HOP)
        self._rises: Signal = np.zeros(AROUND + WAIT)
        self._sections = 0
        self._last = -RATE
        self._loudest = -np.inf

    def process(self, mic: Samples, own: Samples, struck: Samples | None = None) -> tuple[Onset, ...]:
        """Hear a block.

        Parameters
        ----------
        mic, own : Samples
            Microphone, and what the box played at the same sample counts, each shape (n,).
        struck : Samples or None
            What of that was the click, shape (n,). If it is known, a drone hides less. Always given or never.

        Returns
        -------
        tuple of Onset
            Onsets that became certain with this block, in order.

        Raises
        ------
        ValueError
            If the blocks differ in length.
        """
        lengths = {len(mic), len(own), len(mic if struck is None else struck)}
        if len(lengths) > 1:
            message = f"microphone, own sound and click must be equally long, not of {sorted(lengths)} samples"
            raise ValueError(message)
        self._mics = np.concatenate([self._mics, self._mic_slow.process(tidy(mic))])
        self._owns = np.concatenate([self._owns, self._own_slow.process(tidy(own))])
        if struck is not None:
            before = np.zeros(0) if self._strucks is None else self._strucks
            self._strucks = np.concatenate([before, self._struck_slow.process(tidy(struck))])
        found: list[Onset] = []
        while len(self._mics) >= SECTION:
            clicks = None if self._strucks is None else self._strucks[:SECTION]
            found += self._section(self._mics[:SECTION], self._owns[:SECTION], clicks)
            self._mics, self._owns = self._mics[SECTION:], self._owns[SECTION:]
            if self._strucks is not None:
                self._strucks = self._strucks[SECTION:]
        return tuple(found)

    def _section(self, mic: Signal, own: Signal, struck: Signal | None) -> list[Onset]:
        """Take in a section of the slow stream; the onsets that became certain."""
        rest = self.path.remove(mic, own, struck)
        self._sections += 1
        self._rest = np.concatenate([self._rest, rest])[-(BEFORE + WAIT * HOP + SECTION) :]
        rises = self._rise.process(rest, HIDING * _per_frame(self.path.hidden()))
        self._rises = np.concatenate([self._rises, rises])[-(AROUND + WAIT + len(rises)) :]
        found = []
        for frame in peaks(self._rises):
            onset, evidence = self._attack(BEFORE + (frame - AROUND) * HOP - CENTRE, float(self._rises[frame]))
            gap = onset.at - self._last
            if evidence < (LEAST_EVIDENCE if gap > SOON else PLAIN_EVIDENCE) or gap <= APART * HOP * FACTOR:
                continue
            self._loudest -= FORGETTING * max(gap, 0) / RATE
            if onset.level_db < self._loudest - SOFTEST:
                continue
            self._loudest = max(self._loudest, onset.level_db)
            self._last = onset.at
            found.append(onset)
        return found

    def _attack(self, about: int, rise: float) -> tuple[Onset, float]:
        """Find the attack of a note that may have begun about a sample of `_rest`, and the evidence for it."""
        begin = max(0, about - LATE - BEFORE // 2)
        around = self._rest[begin : about + AFTER]
        about -= begin
        fresh = new_sound(around, about, LATE)
        exact = attack_near(fresh, about, LATE, self._rate)
        evidence = rise * _step(fresh, exact)
        share = _rms(fresh[exact : exact + NOTE]) / _rms(around[max(0, exact - NOTE) : exact + NOTE])
        first = self._sections * SECTION - len(self._rest) + begin
        ago = self._sections - 1 - (first + exact) // SECTION
        if exact <= about - LATE or share < LEAST_SHARE or self.path.changed(ago):
            evidence = 0.0
        loud = float(np.abs(fresh[exact : exact + round(ATTACK_SECONDS * self._rate)]).max(initial=0.0))
        late = self.path.late()
        return Onset((first + exact) * FACTOR - self._mic_slow.delay, db_of(loud), (late or 0) * FACTOR), evidence


def _rms(sound: Signal) -> float:
    return float(np.sqrt(np.mean(sound**2))) + 1e-9


def _step(sound: Signal, at: int) -> float:
    """By what factor it is louder after a sample than before; the edge itself, where a filter smears, left out."""
    return _rms(sound[at : at + NOTE]) / _rms(sound[max(0, at - NOTE) : max(1, at - NOTE // 10)])


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
