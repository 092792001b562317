"""Sound cards without a card: one that a test drives block by block, and one that keeps time by itself."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Final

import numpy as np

from firmware.errors import DeviceError
from firmware.units import BLOCK, RATE, Samples

STALL_SECONDS: Final = 0.5
"""The same patience as the real driver has."""

SKIP_SECONDS: Final = 0.25
"""A computer that slept longer than this is not made up for: the blocks count as lost."""


class SimulatedSoundCard:
    """A card that calls back only when `run` is called; keeps the SoundCard contract.

    Parameters
    ----------
    rate, block
        Samples per second and per callback.
    present
        Whether it is plugged in at first.
    """

    name = "simulated"
    summary = "Sound: simulated"

    def __init__(self, *, rate: int = RATE, block: int = BLOCK, present: bool = True) -> None:
        self.rate = rate
        self.block = block
        self.last_output: Samples = np.zeros(block, dtype=np.float32)
        self.last_error = ""
        self._process: Callable[[Samples], Samples] = np.zeros_like
        self._open = False
        self._present = present
        self._stalled = False
        self._lost = 0
        self._elapsed = 0
        self._last: int | None = None
        self._mic: Samples = np.zeros(0, dtype=np.float32)
        self._better = False
        self.chosen = "auto"
        """Kind of card that was last asked for."""

    # --- the contract -----------------------------------------------------------------------------------------------

    @property
    def lost(self) -> int:
        """Blocks that did not come, or in which `process` failed."""
        return self._lost

    @property
    def latency(self) -> float:
        """Seconds to the loudspeaker: a block."""
        return self.block / self.rate

    def start(self, process: Callable[[Samples], Samples]) -> None:
        """Begin; raises DeviceError when it is pulled out."""
        self._process = process
        if not self._present:
            raise DeviceError("sound card", self.name, "it is not plugged in", "Put it back.")
        self._open = True
        self._stalled = False

    def stop(self) -> None:
        """End; a second call does nothing."""
        self._open = False
        self._last = None

    def healthy(self) -> bool:
        """Whether it called back in the last half second of simulated time."""
        return self._last is not None and (self._elapsed - self._last) < STALL_SECONDS * self.rate

    def reopen(self) -> bool:
        """One try to get it back."""
        self.stop()
        try:
            self.start(self._process)
        except DeviceError as error:
            self.last_error = str(error)
            return False
        return True

    def choose(self, kind: str) -> None:
        """There is only one; that it was asked for another is kept."""
        self.chosen = kind

    def better(self) -> bool:
        """Whether a test has plugged in another card that is to be preferred; it is then this one."""
        better, self._better = self._better, False
        return better

    # --- what drives it ---------------------------------------------------------------------------------------------

    def feed(self, mic: Samples) -> None:
        """Let the microphone hear these samples next; after them it hears silence."""
        self._mic = np.concatenate((self._mic, np.asarray(mic, dtype=np.float32)))

    def run(self, blocks: int) -> Samples:
        """Let time pass by so many blocks; what was played, shape (blocks * block,), is zero where nothing was."""
        played = np.zeros((blocks, self.block), dtype=np.float32)
        for block in played:
            self._elapsed += self.block
            if self._open and self._present and not self._stalled:
                block[:] = self._call()
            elif self._open:
                self._lost += 1
            self.last_output = block
        return played.reshape(-1)

    def pull_out(self) -> None:
        """Pull the card: it stops calling back and says nothing."""
        self._present = False

    def plug_in_better(self) -> None:
        """Plug in another card that is to be preferred."""
        self._better = True

    def put_back(self) -> None:
        """Plug it in again; it calls back after `reopen`."""
        self._stalled = True
        self._present = True

    def stall(self) -> None:
        """Let it hang, as under a driver fault; it calls back after `reopen`."""
        self._stalled = True

    def _call(self) -> Samples:
        heard = np.zeros(self.block, dtype=np.float32)
        fed = self._mic[: self.block]
        heard[: len(fed)] = fed
        self._mic = self._mic[self.block :]
        self._last = self._elapsed
        try:
            return self._process(heard)
        except Exception as error:  # noqa: BLE001 - the same promise as the real driver: silence, counted
            self._lost += 1
            self.last_error = repr(error)
            return np.zeros(self.block, dtype=np.float32)


class LoopedMicrophone:
    """A recording that goes round and round in place of a microphone.

    Parameters
    ----------
    samples : Samples
        Shape (n,); an empty one is silence.
    """

    def __init__(self, samples: Samples) -> None:
        self._samples = np.asarray(samples, dtype=np.float32)
        self._at = 0

    def read(self, count: int) -> Samples:
        """Give the next `count` samples, shape (count,)."""
        if not len(self._samples):
            return np.zeros(count, dtype=np.float32)
        at = np.arange(self._at, self._at + count) % len(self._samples)
        self._at = (self._at + count) % len(self._samples)
        return self._samples[at]


class QuietCard:
    """Stands in where there is no sound card: keeps real time on a thread of its own, hears silence, plays to nobody.

    Parameters
    ----------
    rate, block
        Samples per second and per callback.
    now
        Seconds of a clock that never jumps.
    """

    name = "no sound card"
    summary = "No sound, as asked: the box runs in silence by the computer's clock."
    latency = 0.0

    def __init__(self, *, rate: int = RATE, block: int = BLOCK, now: Callable[[], float] = time.monotonic) -> None:
        self.rate = rate
        self.block = block
        self.last_error = ""
        self._now = now
        self._process: Callable[[Samples], Samples] = np.zeros_like
        self._thread: threading.Thread | None = None
        self._ended = threading.Event()
        self._lost = 0
        self._last: float | None = None

    @property
    def lost(self) -> int:
        """Blocks that were skipped because the computer slept, or in which `process` failed."""
        return self._lost

    def start(self, process: Callable[[Samples], Samples]) -> None:
        """Begin to call `process` in real time; a second call without `stop` begins anew."""
        self.stop()
        self._process = process
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._keep_time, name="quiet sound card", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End, after the block that is being worked on; a second call does nothing."""
        self._ended.set()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()
        self._thread = None
        self._last = None

    def healthy(self) -> bool:
        """Whether it called back in the last half second."""
        last = self._last
        return last is not None and self._now() - last < STALL_SECONDS

    def reopen(self) -> bool:
        """Begin anew; always works."""
        self.start(self._process)
        return True

    def choose(self, kind: str) -> None:
        """There is nothing to choose from."""

    def better(self) -> bool:
        """Nothing is better than what was asked for: silence."""
        return False

    def _keep_time(self) -> None:
        period = self.block / self.rate
        due = self._now()
        silence = np.zeros(self.block, dtype=np.float32)
        while not self._ended.wait(max(0.0, due - self._now())):
            late = self._now() - due
            if late > SKIP_SECONDS:
                self._lost += int(late / period)
                due += int(late / period) * period
            due += period
            self._last = self._now()
            try:
                self._process(silence)
            except Exception as error:  # noqa: BLE001 - the same promise as the real driver: silence, counted
                self._lost += 1
                self.last_error = repr(error)
