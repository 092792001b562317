"""What of a take is played back, and where in it that has come to."""

from __future__ import annotations

from dataclasses import dataclass


def take_path(folder: str, number: int) -> str:
    """Path of a take's sound on the stick."""
    return f"{folder}/take-{number:02d}.flac"


@dataclass(frozen=True, slots=True)
class Passage:
    """What is played of a take; all places are samples of it.

    It begins with `first`. With a loop, what lies before `end` is followed by `begin`, again and again; `end` 0 means
    none. Without one it lasts `count` samples, or to the end of the take if that is 0. A `speed` of 0.5 is half as
    fast, at the same pitch.
    """

    first: int = 0
    speed: float = 1.0
    begin: int = 0
    end: int = 0
    count: int = 0

    @property
    def looped(self) -> bool:
        """Whether it goes round."""
        return self.end > self.begin

    def place(self, played: int) -> int:
        """Place in the take that is heard after so many samples of the loudspeaker."""
        place = self.first + round(played * self.speed)
        if not self.looped or place < self.end:
            return place
        return self.begin + (place - self.end) % (self.end - self.begin)
