"""Takes the box's own click, and all else it plays, out of the microphone: the path through the room is learnt."""

from __future__ import annotations

from collections import deque
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal

Spectra = NDArray[np.complex128]

SECTION: Final = 2048
"""Samples worked on at once: 85 ms at 24 kHz."""

SECTIONS: Final = 4
"""Length of the path in sections: 341 ms, device, loudspeaker, travel and the beginning of the room's tail."""

LASTING: Final = 0.9998
"""How much of the path a section later is still as it was; what is missing is what may have changed."""

LASTING_HELD: Final = 0.98
"""The same while a drone is held: its lines tell little of the path, and yet make the filter sure of itself."""

SMOOTHED_BINS: Final = 9
"""Bins over which the players' power is smoothed."""

FIRST_DOUBT: Final = 30.0
"""Variance of the unknown path in each bin and section before anything was heard."""

RECENT: Final = 8
"""Sections whose softest is taken for what is held: 0.7 s."""

STEADY: Final = 2.0
"""What is held may seem louder by so much, as its phase falls in the section."""

FAINTEST_HELD: Final = 1e-7
"""Mean square, -70 dB, below which nothing is held: the steps of 16 bits are louder than SILENT."""

PARTS: Final = 16
HELD: Final = 0.02
"""A section is never silent when the softest of its parts has this share of the mean power."""

FAINTEST: Final = 1e-4
"""A response weaker than this is none: the microphone does not hear the box."""

DIRECT: Final = 0.7
"""Share of the response's maximum that the direct sound reaches at least; reflections may add up to more than it."""

PEAK_WIDTH: Final = 12
"""Samples within which the envelope's peak follows: half a millisecond."""

TINY: Final = 1e-12

SILENT: Final = 1e-10
"""Mean square below which nothing is played."""


def never_silent(own: Signal) -> bool:
    """Whether something is held through the whole of a section: a drone, not clicks alone."""
    powers = np.square(own).reshape(PARTS, -1).mean(axis=1)
    return bool(powers.min() > max(HELD * powers.mean(), FAINTEST_HELD))


def error_of(rest: Signal) -> Spectra:
    """Spectrum of a section of shape (SECTION,) after as many zeros, shape (SECTION + 1,)."""
    return np.fft.rfft(np.concatenate([np.zeros(SECTION), rest]))


class OwnPath:
    """Learns the path from what the box plays to the microphone, and subtracts what the box is heard to play.

    Notes
    -----
    Partitioned frequency-domain Kalman filter with a diagonal covariance (G. Enzner and P. Vary, "Frequency-domain
    adaptive Kalman filter for acoustic echo control in hands-free telephones", Signal Processing 86, 2006; by heart).
    Own sound is known exactly, so all that is unknown is the path. The filter's gain falls by itself, bin by bin, where
    players are loud, so that learning needs no silence; a count-in makes it quick. Sections in which nothing was played
    cost next to nothing. A click tells of the taps of the path in two sections, about half of them in each: the doubt
    about a bin therefore never falls by more than half at a time, or taps that are not heard yet would be forgotten.
    """

    def __init__(self, lasting_held: float = LASTING_HELD) -> None:
        bins = SECTION + 1
        self._lasting_held = lasting_held
        self._path: Spectra = np.zeros((SECTIONS, bins), np.complex128)
        self._doubt: Signal = np.full((SECTIONS, bins), FIRST_DOUBT)
        self._played: Spectra = np.zeros((SECTIONS, bins), np.complex128)
        self._before: Signal = np.zeros(SECTION)
        self._players: Signal | None = None
        self._own_left: Signal = np.zeros(bins)
        self.expected: Signal = np.zeros(bins)
        """Power of own sound that is to be expected in the error of the last section, shape (SECTION + 1,)."""
        self._recent: deque[Signal] = deque(maxlen=RECENT)
        self._held = False
        self._quiet = SECTIONS + 1
        self._smooth: Signal = np.hanning(SMOOTHED_BINS + 2)[1:-1]
        self._smooth /= self._smooth.sum()

    def remove(self, mic: Signal, own: Signal) -> tuple[Signal, Signal]:
        """Split the microphone.

        Parameters
        ----------
        mic, own : Signal
            The next section of the microphone and of what the box played, each shape (SECTION,).

        Returns
        -------
        rest, heard : Signal
            What is left of the microphone, and what was subtracted, each shape (SECTION,).
        """
        heard = self.play(own)
        if not self.sounds:
            return mic, heard
        rest = mic - heard
        self.learn(error_of(rest))
        return rest, heard

    @property
    def sounds(self) -> bool:
        """Whether something that was played may still be heard."""
        return self._quiet <= SECTIONS

    def play(self, own: Signal) -> Signal:
        """Take in the next section of what the box plays; what the microphone should hear of it, shape (SECTION,)."""
        self._quiet = 0 if float(own @ own) > SILENT * SECTION else self._quiet + 1
        self._held = never_silent(own)
        spectrum = np.fft.rfft(np.concatenate([self._before, own])) if self._quiet <= 1 else np.zeros(SECTION + 1)
        self._before = own
        self._played = np.roll(self._played, 1, axis=0)
        self._played[0] = spectrum
        self._forget()
        self._recent.append(np.abs(spectrum) ** 2)
        if not self.sounds:
            self._own_left = self.expected = np.zeros(SECTION + 1)
            return np.zeros(SECTION)
        self._expect()
        heard: Signal = np.fft.irfft((self._path * self._played).sum(axis=0))[SECTION:]
        return heard

    @property
    def response(self) -> Signal:
        """Impulse response of the path as it is known, shape (SECTIONS * SECTION,)."""
        return np.fft.irfft(self._path, axis=1)[:, :SECTION].ravel()

    def again(self) -> OwnPath:
        """A copy that knows what this one has learnt, for hearing a recording from its beginning once more."""
        copy = OwnPath(self._lasting_held)
        copy._path, copy._doubt = self._path.copy(), self._doubt.copy()
        return copy

    def news(self) -> float:
        """Share of what is played that was not there all the time of late: 0 for a drone, towards 1 when it changes."""
        played = np.abs(self._played[0]) ** 2
        new = np.maximum(played - STEADY * np.min(self._recent, axis=0), 0.0)
        return float(new.sum() / (played.sum() + TINY))

    def late(self) -> int | None:
        """By how many samples own sound is heard later than it is played; None as long as it has not been heard.

        The direct sound is taken to be where the envelope of the response first comes near its maximum.
        """
        response = self.response
        size = len(response)
        spectrum = np.fft.fft(response)
        spectrum[size // 2 + 1 :] = 0.0
        envelope = np.abs(np.fft.ifft(spectrum))
        if envelope.max() < FAINTEST:
            return None
        near = int(np.argmax(envelope >= DIRECT * envelope.max()))
        return near + int(np.argmax(envelope[near : near + PEAK_WIDTH]))

    def hidden(self) -> Signal:
        """Power of own sound that may be left in the last section.

        Returns
        -------
        Signal
            Mean power per bin of a transform of 2 * SECTION samples of which half are zero, shape (SECTION + 1,).
        """
        return self._own_left

    def _forget(self) -> None:
        """Let the doubt grow as the path may have changed; while a drone is held also where little is known."""
        changed = np.abs(self._path) ** 2
        lasting = LASTING
        if self._held:
            changed = np.maximum(changed, changed.mean(axis=1, keepdims=True))
            lasting = self._lasting_held
        self._doubt = lasting**2 * self._doubt + (1 - lasting**2) * changed

    def learn(self, error: Spectra, beside: Signal | None = None) -> None:
        """Mend the path by what is left of the microphone, as `error_of` gives it; after `play`.

        Parameters
        ----------
        error : array of complex, shape (SECTION + 1,)
            What is left.
        beside : Signal or None
            Power in it that is to be expected from another path, shape (SECTION + 1,).
        """
        played = np.abs(self._played) ** 2
        own_left = self.expected
        power = np.convolve(np.abs(error) ** 2, self._smooth, "same")
        players = np.maximum(power - 0.5 * own_left, 0.1 * power)
        if beside is not None:
            players = np.maximum(players, beside)
        self._players = players if self._players is None else 0.5 * (self._players + players)
        gain = self._doubt / (own_left + np.maximum(self._players, players) + TINY)
        step = np.fft.irfft(gain * np.conj(self._played) * error, axis=1)
        step[:, SECTION:] = 0.0
        self._path = self._path + np.fft.rfft(step, axis=1)
        self._doubt = self._doubt * (1.0 - 0.5 * gain * played)

    def _expect(self) -> None:
        """Work out what may be left of own sound in the section that is played."""
        played = np.abs(self._played) ** 2
        self.expected = (self._doubt * played).sum(axis=0)
        self._own_left = self.expected
        if self._held:
            # What the box holds, a drone, begins nothing: only what comes on top of it may be mistaken for a player.
            steady = STEADY * np.min(self._recent, axis=0)
            self._own_left = (self._doubt * np.maximum(played - steady, 0.0)).sum(axis=0)
