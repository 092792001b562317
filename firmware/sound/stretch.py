"""A recording slower and still at its pitch: a phase vocoder with locked phases that starts anew at every attack.

No library does this for the box: the one small and maintained binding on PyPI (python-stretch 0.3.1, MIT) has wheels
for Intel alone and takes a whole recording at once; what Debian packages for it is a C++ library under the GPL without
a Python binding.

**Sources** (from memory). M. Puckette, "Phase-locked vocoder" (WASPAA 1995): the phase of a frame is that of the frame
made before plus what the recording's own phase advances in the same time, taken from two spectra of the recording one
step apart, so that nothing need be unwrapped and a steady tone keeps its frequency exactly. J. Laroche and M. Dolson,
"Improved phase vocoder time-scale modification of audio" (IEEE Trans. Speech and Audio Processing 7(3), 1999): the bins
around a peak keep their phases relative to it. C. Duxbury, M. Davies and M. Sandler, "Improved time-scaling of musical
audio using phase locking at transients" (AES 112th convention, 2002): at an attack the recording is played as it is.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.sound.attacks import Attacks, Signal
from firmware.units import RATE, Samples

Spectrum = NDArray[np.complex128]

SIZE: Final = 6144
"""Samples of a frame: 128 ms, which tells tones apart that differ by 25 Hz: B♭2 and D3 in a low chord by 29."""

HOP: Final = SIZE // 4
HALF: Final = SIZE // 2

WINDOW: Final[Signal] = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(SIZE) / SIZE)
OVERLAP: Final = 1.5
"""Sum of the squares of the windows that cover a sample."""

AS_IT_IS: Final = HALF + RATE // 50
"""Samples after an attack up to whose frames the recording is played as it is."""

EVEN_AGAIN: Final = 3 * RATE // 10
"""Samples, as played, after an attack at which the time that this took is made up for."""

GUARD: Final = RATE // 500
"""Samples before an attack from which on it is played as it is, and which nothing before may hear."""

FADE: Final = RATE // 250
"""Samples before that over which what came before gives way."""

SLOWEST: Final = 0.5
NOTHING: Final = 1e-12
NEIGHBOURS: Final = 2
"""A peak is larger than so many bins on either side."""


class Stretcher:
    """Plays a stream of blocks slower. Sample t of it comes at t / speed, and every attack exactly so.

    Parameters
    ----------
    speed : float
        0.5 to 1, 1 being as recorded. Values beyond are taken as the nearest.
    """

    def __init__(self, speed: float) -> None:
        self.speed = min(max(speed, SLOWEST), 1.0)
        self._attacks = Attacks()
        self._sound: Signal = np.zeros(SIZE + HOP)
        self._first = -(SIZE + HOP)
        self._count = 0
        self._ended = False
        self._given = 0
        self._tail: Signal = np.zeros(0)
        self._section = _Section(0, self.speed)

    def process(self, block: Samples) -> Samples:
        """Take in a block, shape (n,), and give what is ready, shape (m,)."""
        self._attacks.process(block)
        self._sound = np.concatenate([self._sound, np.asarray(block, dtype=np.float64)])
        self._count += len(block)
        return self._ready()

    def finish(self) -> Samples:
        """Give the rest. All that is given makes round(n / speed) samples for n taken in."""
        self._ended = True
        before = self._given
        return self._ready()[: max(0, self._length - before)]

    @property
    def _length(self) -> int:
        return round(self._count / self.speed)

    def _ready(self) -> Samples:
        pieces: list[Signal] = []
        while (not self._ended or self._given < self._length) and (piece := self._next()) is not None:
            pieces.append(piece)
            self._given += len(piece)
        self._forget()
        return np.concatenate([np.zeros(0), *pieces]).astype(np.float32)

    def _next(self) -> Signal | None:
        """One step of sound, which may be empty at a seam; None if more must be known first."""
        section = self._section
        centre = section.source()
        known = min(self._attacks.known, self._count)
        if not self._ended and known < centre + HALF + GUARD:
            return None
        if section.end is None:
            ahead = (place for place in self._attacks.places if section.begin < place <= centre + HALF + GUARD)
            section.end = next(ahead, None)
        centre = section.held(centre)
        step = section.add(self._spectrum(centre), self._spectrum(centre - HOP))
        return self._joined(section, step)

    def _joined(self, section: _Section, step: Signal) -> Signal:
        """Cut a step of a section to what is heard of it, and go over to the next section at its end."""
        place = section.given
        section.given += HOP
        first = max(section.played - (GUARD + FADE if section.begin else 0), place)
        sound = step[min(first - place, HOP) :]
        if len(sound) and len(self._tail):
            count = min(len(sound), len(self._tail))
            done = FADE - len(self._tail)
            rising = (np.arange(done, done + count) + 0.5) / FADE
            sound = np.concatenate([self._tail[:count] * (1 - rising) + sound[:count] * rising, sound[count:]])
            self._tail = self._tail[count:]
        if section.end is None:
            return sound
        # The last samples before the next attack wait for its section, to be faded into it.
        section.kept = np.concatenate([section.kept, sound])
        over = round(section.end / self.speed) - GUARD
        begun = place + HOP - len(section.kept)
        free = max(0, min(over - FADE - begun, len(section.kept)))
        sound, section.kept = section.kept[:free], section.kept[free:]
        if place + HOP >= over:
            self._tail = section.kept[: over - (begun + free)]
            self._section = _Section(section.end, self.speed)
        return sound

    def _spectrum(self, centre: int) -> Spectrum:
        """Spectrum of the frame around a sample, without what comes with the next attack."""
        begin = centre - HALF - self._first
        frame = self._sound[begin : begin + SIZE]
        frame = np.concatenate([frame, np.zeros(SIZE - len(frame))]) * WINDOW
        end = self._section.end
        if end is not None and end - GUARD < centre + HALF:
            left = max(end - GUARD - (centre - HALF), 0)
            frame[left:] = 0.0
            fade = min(FADE, left)
            frame[left - fade : left] *= (np.arange(fade, 0, -1) - 0.5) / FADE
        return np.asarray(np.fft.rfft(frame), dtype=np.complex128)

    def _forget(self) -> None:
        oldest = self._section.held(self._section.source()) - HALF - SIZE - HOP
        if oldest - self._first > RATE:
            self._sound = self._sound[oldest - self._first :].copy()
            self._first = oldest
            self._attacks.forget(self._section.begin)


class _Section:
    """What is played from one attack to the next."""

    def __init__(self, begin: int, speed: float) -> None:
        self.begin = begin
        self.end: int | None = None
        """Sample of the next attack, once it is near."""
        self.played = round(begin / speed)
        """When the attack is played."""
        self.given = self.played - FADE - GUARD - SIZE
        """Sample at which the step that is made next is played."""
        self.kept: Signal = np.zeros(0)
        self._speed = speed
        self._made: Spectrum | None = None
        self._sum: Signal = np.zeros(SIZE)

    def source(self) -> int:
        """Sample around which the next frame is taken."""
        since = self.given + HALF - self.played
        if since <= AS_IT_IS:
            return self.begin + since
        if since >= EVEN_AGAIN:
            return self.begin + round(since * self._speed)
        slope = (EVEN_AGAIN * self._speed - AS_IT_IS) / (EVEN_AGAIN - AS_IT_IS)
        return self.begin + AS_IT_IS + round((since - AS_IT_IS) * slope)

    def held(self, centre: int) -> int:
        """The same, but never so late that the next attack would be in the frame; attacks that are close must share."""
        if self.end is None:
            return centre
        return min(centre, max(self.end - GUARD - HALF, (self.begin + self.end) // 2))

    def add(self, here: Spectrum, before: Spectrum) -> Signal:
        """Add a frame and give the step that it completes, shape (HOP,).

        Parameters
        ----------
        here, before : Spectrum
            Spectra of the recording around the frame's centre and a step earlier.
        """
        self._made = here if self._made is None else here * _turn(here, before, self._made)
        self._sum += np.fft.irfft(self._made, SIZE) * WINDOW / OVERLAP
        step = self._sum[:HOP].copy()
        self._sum = np.concatenate([self._sum[HOP:], np.zeros(HOP)])
        return step


def _turn(here: Spectrum, before: Spectrum, made: Spectrum) -> Spectrum:
    """By how much every bin's phase is turned: as its peak's was in the frame before."""
    size = np.abs(here)
    middle = size[NEIGHBOURS:-NEIGHBOURS]
    higher = np.ones(len(middle), dtype=np.bool_)
    for off in range(1, NEIGHBOURS + 1):
        higher &= middle > size[NEIGHBOURS - off : len(size) - NEIGHBOURS - off]
        higher &= middle >= size[NEIGHBOURS + off : len(size) - NEIGHBOURS + off]
    peaks = np.flatnonzero(higher) + NEIGHBOURS
    if len(peaks) == 0:
        peaks = np.array([0])
    turn = made[peaks] * np.conj(before[peaks])
    strength = np.abs(turn)
    turn = np.where(strength > NOTHING, turn / np.maximum(strength, NOTHING), 1.0)
    edges = (peaks[1:] + peaks[:-1] + 1) // 2
    widths = np.diff(np.concatenate([[0], edges, [len(here)]]))
    return np.asarray(np.repeat(turn, widths), dtype=np.complex128)
