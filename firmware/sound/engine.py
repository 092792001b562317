"""The engine: one block of microphone in, one block of loudspeaker out, for as long as the box is on."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.sound.answer import Answerer
from firmware.sound.click import Clicker
from firmware.sound.drone import CHANGE_SECONDS, Drone, safe_gain
from firmware.sound.limiter import Limiter
from firmware.sound.phasors import CHUNK
from firmware.sound.ramp import Fader
from firmware.sound.replay import Replay
from firmware.sound.snapshot import SILENCE, Sound
from firmware.sound.sweep import Sweeper
from firmware.sound.tap import Tap
from firmware.units import RATE, Samples

SOFT_START_SECONDS: Final = 0.3
"""From power-on the output rises this long: no thump, and time to reach for the volume."""


class Engine:
    """Mixes drone, pulse and replay, or plays the room check's sweeps, and keeps the sum below -1 dB of full scale.

    Assign a new snapshot to `sound` at any time, from any thread; it is read once per block. Blocks may
    have any length, and the length may change. Nothing in here raises, waits, or takes more memory with time.

    Parameters
    ----------
    rate : int
        Samples per second.

    Attributes
    ----------
    sound : Sound
        What to sound like.
    position : int
        Samples done. What belongs to sample p leaves the loudspeaker side at sample p + latency.
    answered, clicked : Tap
        The answer's and the click's share of what left, for the listener.
    """

    def __init__(self, rate: int = RATE) -> None:
        self.rate = rate
        self.sound: Sound = SILENCE
        self.position = 0
        self._drone = Drone(rate)
        self._keyboard = Drone(rate)
        self._clicker = Clicker(rate)
        self._replay = Replay(rate)
        self.replayed = Tap()
        self._sweeper = Sweeper(rate)
        self._answerer = Answerer(rate)
        self.answered, self.clicked = Tap(), Tap()
        self._others = Fader(1.0)
        self._limiter = Limiter(rate)
        self._master = Fader(safe_gain(SILENCE.master_db))
        self._start = Fader()
        self._start.aim(1.0, 0, round(SOFT_START_SECONDS * rate))

    @property
    def latency(self) -> int:
        """Samples by which all sound leaves late: the limiter's look-ahead."""
        return self._limiter.delay

    @property
    def replay_missing(self) -> int:
        """Samples of replay that were silent because the feed came late."""
        return self._replay.missing

    def process(self, mic: Samples) -> Samples:
        """Sound for the loudspeaker.

        Parameters
        ----------
        mic : array of shape (n,), float32
            Microphone block. Nothing of it is played; its length is how much is asked for.

        Returns
        -------
        array of shape (n,), float32
            Within -1 dB of full scale.
        """
        sound = self.sound
        result = np.empty(len(mic), dtype=np.float32)
        for begin in range(0, len(result), CHUNK):
            part = result[begin : begin + CHUNK]
            part[:] = self._chunk(sound, len(part))
        return result

    def feed(self, token: int, samples: Samples, last: bool = False) -> int:  # noqa: FBT001, FBT002 - as drivers call it
        """Hand over samples of the replay `token`, in order; `last` marks its end. Says how many were accepted."""
        return self._replay.feed(token, samples, last=last)

    def replay_wants(self) -> int:
        """Samples that `feed` has room for; `feed` has the last word, and says how many it took."""
        replay = self.sound.replay
        return self._replay.room(replay.token if replay.on else None)

    def replay_done(self, token: int) -> bool:
        """Whether the replay `token` has been heard to its end."""
        return self._replay.done(token)

    def _chunk(self, sound: Sound, count: int) -> Samples:
        """The next `count` samples, at most 512."""
        at = self.position
        self._drone.follow(sound.drone, at)
        self._keyboard.follow(sound.keyboard, at)
        self._master.aim(safe_gain(sound.master_db), at, round(CHANGE_SECONDS * self.rate))
        replay = sound.replay
        replayed = self._replay.sound(replay.token if replay.on else None, safe_gain(replay.level_db), at, count)
        self.replayed.write(replayed, count)
        click = self._clicker.sound(sound.pulse, safe_gain(sound.pulse.level_db), at, count)
        sources = (self._drone.sound(at, count), self._keyboard.sound(at, count), click, replayed)
        mixed = np.zeros(count, dtype=np.float32)
        for source in sources:
            if source is not None:
                mixed += source
        answer = self._answerer.sound(sound.answer, at, count)
        self._others.aim(0.0 if sound.sweep.on else 1.0, at, round(CHANGE_SECONDS * self.rate))
        if answer is not None:
            mixed += answer
        for share in (answer, click):
            if share is not None:
                for fader in (self._others, self._master, self._start):
                    fader.apply(share, at)
        self._others.apply(mixed, at)
        sweep = self._sweeper.sound(sound.sweep, at, count)
        if sweep is not None:
            mixed += sweep
        self._master.apply(mixed, at)
        self._start.apply(mixed, at)
        self.position = at + count
        limited = self._limiter.process(mixed, answer, click)
        for tap, share in zip((self.answered, self.clicked), self._limiter.shares, strict=True):
            tap.write(share, count)
        return limited
