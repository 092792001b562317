"""The ear: pitch of one player from the microphone stream, with the box's own sound taken out first."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.heard_events import Heard
from firmware.hearing.filters import Fir, Signal, whitener
from firmware.hearing.full_band import FullBand, pays, sharpened
from firmware.hearing.own_leak import octave_of_own
from firmware.hearing.own_stream import FACTOR, HOP, CleanedStream, Hop
from firmware.hearing.pitch import LENGTHS, Pitch, read_pitch, single
from firmware.hearing.pitch_young import grown
from firmware.hearing.room import Room
from firmware.hearing.section import SectionWatch
from firmware.units import RATE, Samples, db_of

QUIETEST_DB: Final = -66.0
"""Under this level (RMS, dB re full scale) there is silence."""

LEAST_SHARE: Final = 0.55
"""Share of the energy that one harmonic tone must explain to be read: about 1 dB signal to noise."""

SURE_SHARE: Final = 0.8
"""A reading with less than this share must be near that of the hop before."""

SEARCH_HOPS: Final = 4
"""A pitch that carries on is searched for anew every so many hops."""

NEW_HOPS: Final = 6
"""A new pitch is searched for in every one of so many hops, while its beginning leaves the window."""

APART: Final = 0.6
"""A reading with less than this share of its energy on own lines is clearly apart from them."""

ON_OWN: Final = 0.05
"""A partial is on own sound where what was removed has this share of its power, -13 dB."""

OVER_CLICK_DB: Final = 10.0
"""A reading must be this much over the most that clicks of ours may still have in the room."""

UNDER_OWN_DB: Final = -18.0
"""What is so far under own sound that was removed may be what a loudspeaker made of it; players are louder than that.
"""

BUSY_SHARE: Final = 0.35
BUSY_HOPS: Final = 12
"""For so many hops after something harmonic, read or not, the fit of own sound rests."""

STANDS_STILL: Final = 0.85
"""Coherence with own sound from which a reading may be a misfit; matters only when a player was there at the fit."""

WHITE_GAIN: Final[Signal] = np.abs(np.fft.rfft(whitener(), 512)).astype(np.float64)


def _near(hz: float, before: float | None) -> bool:
    """Whether a pitch is about that of the hop before."""
    return before is not None and abs(math.log2(hz / before)) < 0.05


def _believable(pitch: Pitch, before: float | None) -> bool:
    """Whether so much is explained, or enough of it and about the same as in the hop before."""
    return pitch.share >= SURE_SHARE or (pitch.share >= LEAST_SHARE and _near(pitch.hz, before))


class Ear:
    """Hears one player from 38 to 4200 Hz.

    Parameters
    ----------
    rate : int
        Samples per second of the stream.
    stream : CleanedStream or None
        What takes own sound out, when it is shared with others; `hear` then takes its hops.

    Notes
    -----
    The stream is decimated by 4, the box's own sound is subtracted (`CleanedStream`), the rest is whitened and read
    every 40 ms in a window of 39 to 155 ms. `confidence` is the share of the energy in the reading's band that one
    harmonic tone explains: 0.5 is a signal-to-noise ratio of 0 dB, 0.9 is 10 dB, 0.99 is 20 dB. It is 0 when nothing
    is read.
    """

    def __init__(self, rate: int = RATE, stream: CleanedStream | None = None) -> None:
        self.rate = rate
        self._slow_rate = rate / FACTOR
        self._white = Fir(whitener())
        self._stream = stream if stream is not None else CleanedStream(rate)
        self._own = self._stream.own
        self._section = SectionWatch(self._slow_rate)
        self._plain: Signal = np.zeros(LENGTHS[-1])
        self._bright: Signal = np.zeros(LENGTHS[-1])
        self._full = FullBand(FACTOR * LENGTHS[-1])
        self._hops = 0
        self._length = 0
        self._hint: float | None = None
        self._before: float | None = None
        self._last: float | None = None
        self._busy = 0
        self._age = 0
        self._moves = False

    def learn(self, room: Room) -> None:
        """Go by what the room check has learned from the next hop on."""
        self._stream.learn(room)

    def amplify(self, gain_db: float) -> None:
        """Set the gain of the microphone in dB; `process` is given the microphone without it."""
        self._stream.amplify(gain_db)

    def process(self, mic: Samples, own: Samples) -> tuple[Heard, ...]:
        """Hear a block.

        Parameters
        ----------
        mic : Samples
            Microphone, shape (n,).
        own : Samples
            What the box played at the same sample counts, shape (n,).

        Returns
        -------
        tuple of Heard
            One for every 40 ms that were completed; `at` counts samples since the first block and is the centre of
            the window that was read.

        Raises
        ------
        ValueError
            If the blocks differ in length.
        """
        return tuple(self.hear(hop) for hop in self._stream.process(mic, own))

    def hear(self, hop: Hop) -> Heard:
        """Hear a hop of the cleaned stream."""
        self._hops += 1
        self._plain = np.concatenate([self._plain, hop.rest])[-LENGTHS[-1] :]
        bright = self._white.process(hop.rest)
        self._bright = np.concatenate([self._bright, bright])[-LENGTHS[-1] :]
        self._full.add(hop.full)
        heard = self._read(hop.removed_power)
        self._stream.tell_player(self._busy > 0, self._last)
        return self._section.hear(bright, heard, alone=hop.removed is not None and hop.removed_power == 0)

    def _read(self, removed: float) -> Heard:
        level = db_of(float(np.std(self._plain[-LENGTHS[1] :])))
        if level < QUIETEST_DB:
            self._busy = max(0, self._busy - 1)
            return self._nothing("silence", level)
        if not self._own.known:
            return self._nothing("own sound", level)
        search = self._age < NEW_HOPS or self._hops % SEARCH_HOPS == 0
        pitch = read_pitch(
            self._bright, self._slow_rate, self._hint, search=search, longest=self._longest(), moves=self._moves
        )
        before, self._before = self._before, pitch.hz if pitch is not None else None
        left = pitch is not None and self._left_over(pitch)
        harmonic = pitch is not None and pitch.share > BUSY_SHARE and not left
        self._busy = BUSY_HOPS if harmonic else max(0, self._busy - 1)
        if pitch is None or not _believable(pitch, before) or not single(pitch):
            return self._nothing("noise", level)
        heard = level + db_of(math.sqrt(pitch.share))
        bound = self._stream.gain * math.sqrt(self._own.bound())
        least = max(db_of(bound) + OVER_CLICK_DB, db_of(math.sqrt(removed)) + UNDER_OWN_DB)
        if left or self._is_own(pitch, before) or heard < least:
            return self._nothing("own sound", level)
        pitch = self._exactly(pitch)
        self._age = self._age + 1 if _near(pitch.hz, self._hint) else 0
        self._hint = self._last = pitch.hz
        self._length = pitch.length
        self._moves = pitch.moves
        return Heard(self._centre(pitch.length), pitch.hz, pitch.share, heard)

    def _exactly(self, pitch: Pitch) -> Pitch:
        """The same in all of a young note, and with partials over the usual band, where nothing of ours is in them."""
        if pitch.moves or not self._full.there:
            return pitch
        if self._age < NEW_HOPS and pitch.length < LENGTHS[-1]:
            pitch = grown(pitch, self._bright, self._slow_rate)
        white = self._full.newest(FACTOR * pitch.length) if pays(pitch) else None
        return sharpened(pitch, white, self.rate) if white is not None else pitch

    def _longest(self) -> int:
        """Window that may be read in: one step longer than the last, so that the centres never go back in time."""
        return LENGTHS[-1] if not self._length else min(LENGTHS[-1], 2 * self._length)

    def _on_own(self, pitch: Pitch) -> tuple[Signal, Signal, Signal, NDArray[np.bool_]]:
        """Partials of a pitch in Hz, their power, the least they need beside what was removed, and which lie on own."""
        hz: Signal = pitch.hz * np.arange(1.0, len(pitch.power) + 1)
        played: Signal = np.maximum(pitch.power, 0.0) / (pitch.length * self._stream.gain**2)
        removed = self._own.coincident(hz, WHITE_GAIN)
        left = self._own.left_at_most(hz, removed, WHITE_GAIN)
        on_own = np.maximum(removed, left) > (ON_OWN * played if self._own.predicted else 0.0)
        return hz, played, self._own.least(hz, removed, WHITE_GAIN), on_own

    def _left_over(self, pitch: Pitch) -> bool:
        """Whether a prediction or a fit that was not right has left what was read: no player, so the fit may go on."""
        hz, played, least, on_own = self._on_own(pitch)
        heard = float(played[on_own].sum())
        if heard < APART * float(played.sum()):
            return False
        suspect = heard < float(least[on_own].sum()) or self._own.doubts(pitch.hz)
        return suspect and self._own.coherence(hz[on_own]) > STANDS_STILL

    def _is_own(self, pitch: Pitch, before: float | None) -> bool:
        """Whether what was read may be what is left of own sound rather than a player on the same lines."""
        hz, played, least, on_own = self._on_own(pitch)
        heard = float(played[on_own].sum())
        removed = self._own.coincident(hz, WHITE_GAIN)
        if self._own.predicted and octave_of_own(played, self._own.left_at_most(hz, removed, WHITE_GAIN)):
            return True
        if heard < APART * float(played.sum()):
            return self._own.doubts(pitch.hz) and self._own.remnant(pitch.hz)
        return heard < float(least[on_own].sum()) or not _near(pitch.hz, before)

    def _nothing(self, why: str, level: float) -> Heard:
        self._age = 0
        self._hint = None
        self._length = 0
        self._moves = False
        return Heard(self._centre(LENGTHS[1]), None, 0.0, level, why)

    def _centre(self, length: int) -> int:
        """Sample count at the centre of a window that ends with the newest sample of the slow stream."""
        newest = self._hops * HOP * FACTOR - self._stream.delay
        return max(0, newest - length * FACTOR // 2)
