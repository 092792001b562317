"""Whether what is followed through an answer stands stiller than a player: a loudspeaker's distortion does."""

from __future__ import annotations

from typing import Final

from firmware.units import cents_of

STILL_CENTS: Final = 0.4
STILL_HOPS: Final = 75
"""A pitch that has not moved for three seconds may be distortion of ours: no player stands so still."""

PITCHLESS: Final = 3
"""Nor is one without a pitch for a third of that time."""

PATIENCE_GROWS: Final = 4
LONGEST_PATIENCE: Final = 1600
"""A player who was asked and was there is asked again after 12 s, after 48 s, and from then on once in 64 s."""


class Stillness:
    """Counts for how long a pitch has not moved, or nothing had a pitch.

    Notes
    -----
    What a loudspeaker makes of drone and answer stands on sums and differences of their lines, as still as they.
    """

    def __init__(self) -> None:
        self._hz = 0.0
        self._still = 0
        self._pitchless = 0
        self._patience = STILL_HOPS

    def begin(self) -> None:
        """Begin to count: another note is followed."""
        self._still = self._pitchless = 0

    def forget(self) -> None:
        """Be as impatient as at first."""
        self._patience = STILL_HOPS

    def doubts(self, hz: float | None) -> bool:
        """Take in the pitch of a hop, None where there was none; whether it may be ours. The next doubt comes later."""
        if hz is None:
            self._pitchless += 1
        else:
            self._pitchless = 0
            if self._hz <= 0 or abs(cents_of(hz / self._hz)) >= STILL_CENTS:
                self._still, self._hz = 0, hz
        self._still += 1
        if self._still <= self._patience and PITCHLESS * self._pitchless <= self._patience:
            return False
        self._patience = min(PATIENCE_GROWS * self._patience, LONGEST_PATIENCE)
        return True
