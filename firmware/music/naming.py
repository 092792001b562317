"""Naming what is heard: the nearest tone of the key, cents from its target, beats against the drone."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from firmware.errors import OutOfRangeError
from firmware.music.harmony import Harmony, Tone, chord_intervals, intervals_of
from firmware.music.intervals import OCTAVE, UNISON, Interval
from firmware.music.notes import Note, note_at
from firmware.units import CENTS_PER_OCTAVE, cents_of

SAME_DEGREE = 50.0
"""Cents within which a pitch counts as the degree of a rung when no degree is given."""

_NAMING_OCTAVE = 4


@dataclass(frozen=True, slots=True)
class NamedPitch:
    """A heard pitch as a tone of the key: where it should be, and how many cents above that it is."""

    note: Note
    degree: str
    semitones: int
    target_hz: float
    cents: float


def targets_of(harmony: Harmony) -> tuple[Interval, ...]:
    """Intervals of the twelve tones above the tonic; the chord that sounds sets its own members."""
    targets = list(intervals_of(harmony, *range(12)))
    if harmony.shape != "free" or harmony.held is not None:
        for _, semitones, interval in chord_intervals(harmony):
            # A chord that has drifted below the tonic would fold to the wrong octave.
            targets[semitones % 12] = interval / OCTAVE ** (semitones // 12)
    return tuple(targets)


def name_pitch(hz: float, harmony: Harmony) -> NamedPitch:
    """Name a pitch as the nearest of the twelve tones of key and tuning, in any octave.

    Parameters
    ----------
    hz : float
        Frequency in Hz.
    harmony : Harmony
        Key, tuning and reference; a sounding chord on another degree sets the targets of its members.

    Raises
    ------
    OutOfRangeError
        If hz is not a number above zero.
    """
    if not 0 < hz < math.inf:
        raise OutOfRangeError("frequency", hz, "a number above 0 Hz")
    above = cents_of(hz / harmony.hz_of(_NAMING_OCTAVE, UNISON))
    off, semitones, target = min(
        ((_off(above, target), n, target) for n, target in enumerate(targets_of(harmony))), key=lambda t: abs(t[0])
    )
    octaves = round((above - off - target.cents) / CENTS_PER_OCTAVE)
    midi = harmony.tonic(_NAMING_OCTAVE).midi + 12 * octaves + semitones
    return NamedPitch(
        note=note_at(harmony.key.spell(semitones), midi),
        degree=harmony.key.label(semitones),
        semitones=semitones,
        target_hz=harmony.hz_of(_NAMING_OCTAVE, target * OCTAVE**octaves),
        cents=off,
    )


def beats(hz: float, tones: Iterable[Tone], degree: str | None = None) -> float | None:
    """Beats per second of a pitch against the nearest rung of the same degree.

    The lowest partials that fall together beat: a player two octaves over the rung meets its fourth partial, a
    player an octave under it meets the rung with the second partial.

    Parameters
    ----------
    hz : float
        Frequency of the player in Hz.
    tones : iterable of Tone
        The tones that sound.
    degree : str, optional
        Degree that was heard; without it, a rung within 50 cents in any octave counts.

    Returns
    -------
    float or None
        Beats per second, never negative; None if no rung of that degree sounds.
    """
    if not 0 < hz < math.inf:
        raise OutOfRangeError("frequency", hz, "a number above 0 Hz")
    away = [(cents_of(hz / tone.hz), tone) for tone in tones if degree is None or tone.degree == degree]
    near = [(cents, tone.hz) for cents, tone in away if degree is not None or abs(_off(cents, None)) <= SAME_DEGREE]
    if not near:
        return None
    cents, rung_hz = min(near, key=lambda pair: abs(pair[0]))
    octaves = round(cents / CENTS_PER_OCTAVE)
    return abs(hz * 2.0 ** max(-octaves, 0) - rung_hz * 2.0 ** max(octaves, 0))


def _off(above: float, target: Interval | None) -> float:
    """Cents from a target to the nearest octave of it, -600 to 600."""
    return math.remainder(above - (target.cents if target else 0.0), CENTS_PER_OCTAVE)
