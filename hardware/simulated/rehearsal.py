"""Runs a whole rehearsal: hands on the panel, sound round the room, photographs of the screen."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np

from firmware.units import BLOCK, RATE, Samples, samples_of
from hardware.simulated.contact_sheet import Photograph
from hardware.simulated.cues import Hands
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.script import Shot

SILENCE: Final = np.zeros(BLOCK, np.float32)


class Loop(Protocol):
    """What is needed of the box in its loop."""

    @property
    def now(self) -> int:
        """Samples done."""

    def block(self, mic: Samples) -> Samples:
        """Take in a microphone block and give the loudspeaker block."""

    def finish(self) -> None:
        """End the rehearsal."""


class Microphone(Protocol):
    """Where the microphone's sound comes from."""

    def block(self, speaker: Samples) -> Samples:
        """Give the next block, from what the box put out in the block before."""


class Recording:
    """A recording in place of a room: its blocks, then silence. What the loudspeaker does is not heard in it."""

    def __init__(self, blocks: Iterator[Samples]) -> None:
        self._blocks = blocks

    def block(self, speaker: Samples) -> Samples:
        """Give the next block of the recording, as long as the loudspeaker's."""
        found = next(self._blocks, SILENCE[:0])
        if len(found) == len(speaker):
            return found
        whole = np.zeros(len(speaker), np.float32)
        whole[: len(found)] = found
        return whole


@dataclass(slots=True)
class Camera:
    """Photographs the screen when a shot of the script is due."""

    screen: SimulatedScreen
    shots: tuple[Shot, ...]
    taken: list[Photograph] = field(default_factory=list)

    def pump(self, now: int) -> None:
        """Take what is due at a sample count."""
        while len(self.taken) < len(self.shots) and samples_of(self.shots[len(self.taken)].at) <= now:
            shot = self.shots[len(self.taken)]
            self.taken.append(Photograph(shot.at, shot.caption, self.screen.last_frame))


@dataclass(frozen=True, slots=True)
class Sinks:
    """Where the sound goes, block by block, and who is told of the seconds done."""

    speaker: Callable[[Samples], object]
    mic: Callable[[Samples], object]
    progress: Callable[[float], object]


def run_rehearsal(
    loop: Loop, microphone: Microphone, hands: Hands, camera: Camera, sinks: Sinks, seconds: float
) -> float:
    """Run the box for at least so many seconds, in whole blocks; answers the seconds that were run.

    Speaker and microphone sound run on one clock: sample n of one belongs to sample n of the other.
    """
    mic = microphone.block(SILENCE)
    while loop.now < samples_of(seconds):
        hands.pump(loop.now)
        speaker = loop.block(mic)
        sinks.speaker(speaker)
        sinks.mic(mic)
        camera.pump(loop.now)
        sinks.progress(loop.now / RATE)
        mic = microphone.block(speaker)
    loop.finish()
    return loop.now / RATE
