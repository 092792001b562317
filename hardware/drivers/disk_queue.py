"""The bounded queue before the disk thread: nobody who puts something in ever waits."""

from __future__ import annotations

from collections import deque
from typing import Final

import numpy as np

from firmware.commands import Command
from firmware.takes.recorder import Chunk

ROOM_COMMANDS: Final = 2000
"""Commands that may wait, and as many again that are kept while there is no stick."""

Job = Command | Chunk


class DiskQueue:
    """Commands and chunks of takes on their way to the stick; what finds no room is counted.

    Parameters
    ----------
    room : int
        Samples that may wait.
    """

    def __init__(self, room: int) -> None:
        self._room = room
        self._jobs: deque[Job] = deque()
        # Each count has one writer: the sound thread, the box's thread and the disk's. So none needs a lock.
        self._sound_in = 0
        self._sound_out = 0
        self._commands_in = 0
        self._commands_out = 0
        self._told = (0, 0)
        self.dropped_sound = 0
        """Samples for which there was no room."""
        self._refused = 0
        self.given_up = 0
        """Commands that the disk thread could not keep any longer; it alone counts them."""

    def __bool__(self) -> bool:
        return bool(self._jobs)

    @property
    def dropped_commands(self) -> int:
        """Commands for which there was no room, here or later."""
        return self._refused + self.given_up

    @property
    def waiting(self) -> int:
        """Samples that wait."""
        return self._sound_in - self._sound_out

    def put(self, job: Job) -> bool:
        """Queue a job; false if there was no room, and of a chunk then only its place and its end are kept."""
        return self._put_chunk(job) if isinstance(job, Chunk) else self._put_command(job)

    def take(self) -> Job:
        """The oldest job; the queue must hold one."""
        job = self._jobs.popleft()
        if isinstance(job, Chunk):
            self._sound_out += len(job.samples)
        else:
            self._commands_out += 1
        return job

    def newly_dropped(self) -> tuple[int, int]:
        """Samples and commands that were dropped since this was asked last."""
        dropped, before = (self.dropped_sound, self.dropped_commands), self._told
        self._told = dropped
        return dropped[0] - before[0], dropped[1] - before[1]

    def _put_chunk(self, chunk: Chunk) -> bool:
        fits = self.waiting + len(chunk.samples) <= self._room
        if not fits:
            self.dropped_sound += len(chunk.samples)
            # Its place and its end still count: only the sound is left out.
            chunk = Chunk(chunk.number, chunk.end, np.zeros(0, dtype=np.float32), chunk.last)
        self._sound_in += len(chunk.samples)
        if fits or chunk.last:
            self._jobs.append(chunk)
        return fits

    def _put_command(self, job: Command) -> bool:
        fits = self._commands_in - self._commands_out < ROOM_COMMANDS
        if fits:
            self._commands_in += 1
            self._jobs.append(job)
        else:
            self._refused += 1
        return fits
