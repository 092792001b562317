"""What "the onset" is, and how it is found to a fraction of a millisecond once it is known that a note began.

**Definition.** A note's onset is the first sample at which its own sound, taken alone, reaches a third (-9.5 dB) of the
largest value that it reaches in its first 100 ms. That is the threshold model of the perceptual attack: listeners put
a tone's beginning where its envelope comes within 6 to 15 dB of its maximum, not where the string or reed first moves
(J. Vos and R. Rasch, "The perceptual onset of musical tones", Perception & Psychophysics 29, 1981; from memory). For a
stroke it is the physical start within a fraction of a millisecond; for a slow bow it comes tens of milliseconds later,
which is also where an ensemble hears the player come in.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

SHARE: Final = 1 / 3
"""Share of the largest value at which the note has begun."""

ATTACK_SECONDS: Final = 0.1
"""Time within which the largest value counts."""

FAINT: Final = 0.01
"""Share of a lone note's largest value that marks its physical start: -40 dB."""

GAP_SECONDS: Final = 0.012
"""A note that stays under its threshold for longer has not begun before: more than half a period of the lowest note."""


def attack_of(note: Signal, rate: float) -> int:
    """Onset of a note that sounds alone, by the definition.

    Parameters
    ----------
    note : Signal
        The note with silence before it, shape (n,).
    rate : float
        Samples per second.

    Returns
    -------
    int
        Sample of the onset; 0 if there is no sound.
    """
    size = np.abs(note)
    start = int(np.argmax(size > FAINT * size.max()))
    threshold = SHARE * size[start : start + round(ATTACK_SECONDS * rate)].max()
    return start + int(np.argmax(size[start:] >= threshold))


def attack_near(sound: Signal, about: int, late: int, rate: float) -> int:
    """Onset of the note whose rise was seen `about` a sample.

    Parameters
    ----------
    sound : Signal
        The new note as well as it can be told from what else sounds, shape (n,).
    about : int
        Sample near which it began.
    late : int
        Samples by which it may have begun earlier or later.
    rate : float
        Samples per second.

    Returns
    -------
    int
        Sample at which the note reaches its threshold with nothing above it for 12 ms before; the nearest of several.
    """
    size = np.abs(sound)
    low, high = max(0, about - late), about + round(ATTACK_SECONDS * rate)
    threshold = SHARE * size[low:high].max()
    above = low + np.flatnonzero(size[low:high] >= threshold)
    starts = above[np.diff(above, prepend=-high) > round(GAP_SECONDS * rate)]
    return int(starts[np.argmin(np.abs(starts - about))])


FRAME: Final = 256
"""Samples of the short spectra that tell old sound from new: 11 ms at 24 kHz."""

KEPT: Final = 0.05
"""A bin in which so little of the power is new is left out."""


def _mean_power(sound: Signal) -> Signal:
    """Mean power of the bins of half-overlapping Hann frames, shape (FRAME // 2 + 1,)."""
    if len(sound) < FRAME:
        return np.zeros(FRAME // 2 + 1)
    frames = np.lib.stride_tricks.sliding_window_view(sound, FRAME)[:: FRAME // 2]
    result: Signal = (np.abs(np.fft.rfft(frames * np.hanning(FRAME + 1)[:-1], axis=1)) ** 2).mean(axis=0)
    return result


def new_sound(sound: Signal, about: int, late: int) -> Signal:
    """What began about a sample, with what sounded before it turned down.

    Parameters
    ----------
    sound : Signal
        Sound around the onset, shape (n,).
    about, late : int
        The onset is at `about` give or take `late`.

    Returns
    -------
    Signal
        Shape (n,). A filter without phase shift whose gain is the share of each bin's power that is new; when there was
        silence before, the sound itself.
    """
    before = _mean_power(sound[max(0, about - late - 768) : about - late])
    after = _mean_power(sound[about : about + 2048])
    share = 1.0 - np.minimum(1.5 * before / np.maximum(after, 1e-20), 1.0)
    if share.min() > 1.0 - KEPT:
        return sound
    taps = np.fft.fftshift(np.fft.irfft(share)) * np.hanning(FRAME + 2)[1:-1]
    size = len(sound) + FRAME
    spectrum = np.fft.rfft(sound, size) * np.fft.rfft(taps, size)
    result: Signal = np.fft.irfft(spectrum, size)[FRAME // 2 : FRAME // 2 + len(sound)]
    return result
