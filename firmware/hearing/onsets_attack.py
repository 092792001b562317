"""What "the onset" is, and how it is found to a fraction of a millisecond once it is known that a note began.

**Definition.** A note's onset is the first sample at which its own sound, taken alone, is at least a third (-9.5 dB) of
the largest value that it reaches in the 80 ms from that sample on. That is the threshold model of the perceptual
attack: listeners put a tone's beginning where its envelope comes within 6 to 15 dB of its maximum, not where the string
or reed first moves (J. Vos and R. Rasch, "The perceptual onset of musical tones", Perception & Psychophysics 29, 1981;
from memory). For a stroke it is the physical start within a fraction of a millisecond; for a slow bow or a low reed it
comes tens of milliseconds later, which is also where an ensemble hears the player come in. The 80 ms begin at the onset
itself because the first faint movement of a slow note can't be heard in a room.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal

SHARE: Final = 1 / 3
"""Share of the largest value at which the note has begun."""

ATTACK_SECONDS: Final = 0.08
"""Time within which the largest value counts."""

FAINT: Final = 0.01
"""What is 40 dB below the largest value of a lone note does not belong to it."""

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
    return int(np.argmax(_begun(size, rate) & (size > FAINT * size.max())))


def attack_near(sound: Signal, about: int, late: int, rate: float) -> int:
    """Onset of the note whose rise was seen `about` a sample.

    Parameters
    ----------
    sound : Signal
        The new note as well as it can be told from what else sounds, shape (n,).
    about : int
        Sample near which it began.
    late : int
        Samples by which it may have begun earlier.
    rate : float
        Samples per second.

    Returns
    -------
    int
        Sample that satisfies the definition, with none that does in the 12 ms before; the nearest of several.
    """
    size = np.abs(sound)
    low, high = max(0, about - late), about + round(ATTACK_SECONDS * rate)
    begun = low + np.flatnonzero(_begun(size, rate)[low:high] & (size[low:high] > FAINT * size[low:].max()))
    if not len(begun):
        return about
    starts = begun[np.diff(begun, prepend=-high) > round(GAP_SECONDS * rate)]
    return int(starts[np.argmin(np.abs(starts - about))])


def _begun(size: Signal, rate: float) -> NDArray[np.bool_]:
    """Whether each value is a third of the largest of the 80 ms from there on, shape as `size`."""
    result: NDArray[np.bool_] = (size >= SHARE * largest_ahead(size, round(ATTACK_SECONDS * rate))) & (size > 0)
    return result


def largest_ahead(values: Signal, count: int) -> Signal:
    """Largest of each value and the `count` - 1 after it, shape as `values`.

    Notes
    -----
    Van Herk 1992, Gil and Werman 1993 (from memory): a window is the end of one block and the beginning of the next.
    """
    blocks = np.zeros(-(-(len(values) + count) // count) * count)
    blocks[: len(values)] = values
    rows = blocks.reshape(-1, count)
    to_end = np.maximum.accumulate(rows[:, ::-1], axis=1)[:, ::-1].ravel()
    from_start = np.maximum.accumulate(rows, axis=1).ravel()
    result: Signal = np.maximum(to_end[: len(values)], from_start[count - 1 : count - 1 + len(values)])
    return result


FRAME: Final = 256
"""Samples of the short spectra that tell old sound from new: 11 ms at 24 kHz."""

NEGLIGIBLE: Final = 1e-4
"""A bin that has so little of the loudest bin's power is let be: a filter that does less smears less."""

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
    before = _mean_power(sound[max(0, about - late - 500) : about - late])
    after = _mean_power(sound[about : about + 2048])
    share = 1.0 - np.minimum(1.5 * before / np.maximum(after, 1e-20), 1.0)
    share[np.maximum(before, after) < NEGLIGIBLE * after.max()] = 1.0
    if share.min() > 1.0 - KEPT:
        return sound
    taps = np.fft.fftshift(np.fft.irfft(share)) * np.hanning(FRAME + 2)[1:-1]
    size = len(sound) + FRAME
    spectrum = np.fft.rfft(sound, size) * np.fft.rfft(taps, size)
    result: Signal = np.fft.irfft(spectrum, size)[FRAME // 2 : FRAME // 2 + len(sound)]
    return result
