"""Advice on the gain of the microphone, from the loudest tenth of a second in each second of the last minute."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.units import RATE

WINDOW: Final = 60
"""Seconds that advice is drawn from."""

LEAST: Final = 10
"""Seconds that must have been loud enough to be music before there is any advice."""

MUSIC_DB: Final = -50.0
"""A second whose peak is lower is a silent room."""

WANTED_DB: Final = -9.0
"""Where the loudest peak should come to lie: high over the noise, and room for the fortissimo (common practice)."""

STEP_DB: Final = 3
WORTH_DB: Final = 6
"""Less than this is not worth a word."""


@dataclass(frozen=True, slots=True)
class GainWatch:
    """Peaks of the last minute, one a second, in dB re full scale; `clips` are the seconds in which one touched it."""

    peaks: tuple[float, ...] = ()
    clips: tuple[bool, ...] = ()
    second: int = -1
    """Which second the last peak belongs to, since the start."""

    def heard(self, at: int, peak_db: float, *, clipped: bool) -> GainWatch:
        """Take in the level of a tenth of a second that ended before sample `at`."""
        second = (at - 1) // RATE
        if second == self.second and self.peaks:
            peaks = (*self.peaks[:-1], max(self.peaks[-1], peak_db))
            return replace(self, peaks=peaks, clips=(*self.clips[:-1], self.clips[-1] or clipped))
        return GainWatch((*self.peaks, peak_db)[-WINDOW:], (*self.clips, clipped)[-WINDOW:], second)

    def turned(self, change_db: float) -> GainWatch:
        """What it would have heard with the gain changed by so much; what clipped is not known any more."""
        kept = [peak + change_db for peak, clip in zip(self.peaks, self.clips, strict=True) if not clip]
        return GainWatch(tuple(kept), (False,) * len(kept), self.second)

    @property
    def advice_db(self) -> int:
        """By how much the gain should be turned, in dB; 0 when it is right or too little was heard.

        So far that the loudest peak comes to lie at -9 dB, in steps of 3 dB. What clipped was louder than can be
        known: then at least 6 dB down.
        """
        music = [peak for peak in self.peaks if peak > MUSIC_DB]
        if any(self.clips):
            return -max(WORTH_DB, STEP_DB * round((max(self.peaks) - WANTED_DB) / STEP_DB))
        if len(music) < LEAST:
            return 0
        change = STEP_DB * round((WANTED_DB - max(music)) / STEP_DB)
        return change if abs(change) >= WORTH_DB else 0


def advice_words(advice_db: int) -> str:
    """Advice in words, empty for none: "6 dB up"."""
    if not advice_db:
        return ""
    return f"{abs(advice_db)} dB {'up' if advice_db > 0 else 'down'}"
