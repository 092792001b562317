"""Writes the stick in the order of the commands, on its own thread, so that a slow stick never holds up the sound."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from firmware.commands import AppendLine, CloseTake, Command, KeepSettings, OpenTake, WriteText
from firmware.errors import DeviceError, KeelnoteError
from firmware.events import Fault
from firmware.ports import Now, Post, Stick, TakeFile
from firmware.take_events import StickChanged, TakeSaved
from firmware.takes.recorder import Chunk
from firmware.units import RATE

ROOM_SECONDS: Final = 30
"""Sound that may wait for the stick; cheap sticks pause for seconds while they tidy up."""

ROOM_COMMANDS: Final = 2000
"""Commands that may wait, and as many again that are kept while there is no stick."""

WAKE_SECONDS: Final = 0.1
"""How often the thread looks even if nobody woke it."""

FREE_STEP: Final = 5_000_000
"""A change of room that is worth an event: about a minute of sound."""

SLOW_SECONDS: Final = 2
"""Sound that waits for this long is worth a word to the director."""

SETTINGS: Final = "settings.toml"
SETTINGS_BEFORE: Final = "settings.toml.old"

Job = Command | Chunk


def kept_settings(stick: Stick) -> str | None:
    """The settings file as it was last saved; the one before if a power cut took it, None if there is neither."""
    return stick.read_text(SETTINGS) or stick.read_text(SETTINGS_BEFORE)


@dataclass(slots=True)
class _Open:
    """A take on the stick: its file, and the number of the next microphone sample that belongs into it."""

    path: str
    first: int
    file: TakeFile | None
    next: int | None = None
    rescued: int = 0
    """Samples of it that are safe although the stick refused the rest."""


class DiskThread:
    """Everything that is written to the stick goes through here.

    `submit` never waits. Either `start` a thread, or call `pump` from a loop that has no threads; both do the same.
    Errors of the stick become Fault events, once for each state of the stick; texts and lines are kept meanwhile and
    written when the stick is back. Sound for which the queue had no room is replaced by silence of the same length, so
    that the markers of the take stay where they belong, and is reported.

    Parameters
    ----------
    stick : Stick
        Where to write.
    post : callable
        Takes the events TakeSaved, StickChanged and Fault.
    now : callable
        Sample count of the one clock; open takes are synced whenever a second of it has passed.
    room : int
        Samples that may wait.
    """

    def __init__(self, stick: Stick, post: Post, now: Now, *, room: int = ROOM_SECONDS * RATE) -> None:
        self._stick = stick
        self._post = post
        self._now = now
        self._room = room
        self._jobs: deque[Job] = deque()
        self._kept: deque[Command] = deque()
        self._takes: dict[int, _Open] = {}
        # Each count has one writer: the sound thread, the box's thread and this one. So none needs a lock.
        self._sound_in = 0
        self._sound_out = 0
        self._commands_in = 0
        self._commands_out = 0
        self._dropped_sound = 0
        self._dropped_commands = 0
        self._told = (0, 0)
        self._synced = now()
        self._trouble = ""
        self._blocked = False
        self._seen: tuple[bool, int] | None = None
        self._wake = threading.Event()
        self._thread: threading.Thread | None = None
        self._stopping = False
        self._ended = False
        self._slow = False
        self._writing = threading.Lock()
        self._table: dict[type[Any], Callable[[Any], None]] = {
            Chunk: self._chunk,
            OpenTake: self._open_take,
            CloseTake: lambda _: None,  # the recorder's last chunk closes it: earlier ones may still be on their way
            WriteText: lambda job: self._stick.write_text(job.path, job.text),
            AppendLine: lambda job: self._stick.append_line(job.path, job.line),
            KeepSettings: self._keep_settings,
        }

    @property
    def dropped(self) -> int:
        """Samples for which there was no room, since the start."""
        return self._dropped_sound

    @property
    def dropped_commands(self) -> int:
        """Commands for which there was no room, since the start."""
        return self._dropped_commands

    @property
    def waiting(self) -> int:
        """Samples that wait for the stick."""
        return self._sound_in - self._sound_out

    @property
    def idle(self) -> bool:
        """Whether all that was submitted is on the stick."""
        return not self._jobs and not self._kept

    def submit(self, job: Job) -> bool:
        """Queue a command, or a chunk of a take; false if there was no room. Never waits and never raises.

        After `stop` it is written at once, on the caller's thread: the last lines come when the last take is safe.
        """
        if isinstance(job, Chunk):
            fits = self.waiting + len(job.samples) <= self._room
            if not fits:
                self._dropped_sound += len(job.samples)
                # Its place and its end still count: only the sound is left out.
                job = Chunk(job.number, job.end, np.zeros(0, dtype=np.float32), job.last)
            self._sound_in += len(job.samples)
            if fits or job.last:
                self._jobs.append(job)
        else:
            fits = self._commands_in - self._commands_out < ROOM_COMMANDS
            if fits:
                self._commands_in += 1
                self._jobs.append(job)
            else:
                self._dropped_commands += 1
        self._wake.set()
        if self._ended:
            self.pump()
        return fits

    def pump(self) -> None:
        """Write all that waits, sync once a second, look after the stick, and report."""
        with self._writing:
            self._warn_if_slow()
            self._retry()
            while self._jobs:
                job = self._jobs.popleft()
                if isinstance(job, Chunk):
                    self._sound_out += len(job.samples)
                else:
                    self._commands_out += 1
                self._do(job)
                self._keep_watch()
            self._keep_watch()
            self._report_drops()

    def start(self) -> None:
        """Begin to write on a thread of its own; a second call does nothing."""
        if self._thread is None:
            self._stopping = self._ended = False
            self._thread = threading.Thread(target=self._run, name="keelnote-disk", daemon=True)
            self._thread.start()

    def stop(self, timeout: float = 10.0) -> bool:
        """Write what waits, finish open takes, end the thread; false if the stick took more than `timeout` seconds."""
        thread, self._thread = self._thread, None
        if thread is not None:
            self._stopping = True
            self._wake.set()
            thread.join(timeout)
            if thread.is_alive():
                return False
        self.pump()
        with self._writing:
            for number in tuple(self._takes):
                self._close(number)
        self._ended = True
        return True

    def _run(self) -> None:
        while not self._stopping:
            self._wake.wait(WAKE_SECONDS)
            self._wake.clear()
            try:
                self.pump()
            except Exception as error:  # noqa: BLE001 - this thread must live as long as the rehearsal
                self._post(Fault(self._now(), "stick-error", repr(error)))

    def _keep_watch(self) -> None:
        if self._seen is None or self._now() - self._synced >= RATE:
            self._synced = self._now()
            self._sync()
            self._look_at_stick()

    def _do(self, job: Job) -> None:
        action = self._table.get(type(job))
        if action is None:
            self._post(Fault(self._now(), "error", f"the disk can't do {type(job).__name__}"))
            return
        if self._kept and not isinstance(job, Chunk | OpenTake | CloseTake):
            self._keep(job)  # behind those that wait already, in order
            return
        try:
            action(job)
        except DeviceError as error:
            if isinstance(job, OpenTake):
                self._trouble = ""  # whoever asks for a take is told each time why there is none
            self._complain(error)
            if not isinstance(job, Chunk | OpenTake | CloseTake):
                self._keep(job)
        except KeelnoteError as error:
            self._post(Fault(self._now(), error.message, error.text))

    def _keep(self, job: Command) -> None:
        if len(self._kept) < ROOM_COMMANDS:
            self._kept.append(job)
        else:
            self._dropped_commands += 1

    def _retry(self) -> None:
        # At most one failing try a second: `_look_at_stick` lifts the block.
        while self._kept and not self._blocked:
            job = self._kept[0]
            try:
                self._table[type(job)](job)
            except DeviceError as error:
                self._complain(error)
                return
            except KeelnoteError as error:
                self._post(Fault(self._now(), error.message, error.text))
            self._kept.popleft()
            self._trouble = ""

    def _complain(self, error: DeviceError) -> None:
        self._blocked = True
        if error.message != self._trouble:
            self._trouble = error.message
            self._post(Fault(self._now(), error.message, error.text))

    def _open_take(self, job: OpenTake) -> None:
        take = self._takes[job.number] = _Open(job.path, max(job.first, 0), None)
        take.file = self._stick.open_take(job.path)

    def _chunk(self, chunk: Chunk) -> None:
        take = self._takes.get(chunk.number)
        if take is None:
            return
        if take.file is not None:
            self._add(take, chunk)
        if chunk.last:
            self._close(chunk.number)

    def _add(self, take: _Open, chunk: Chunk) -> None:
        if take.next is None:
            take.next = chunk.first
            if chunk.first > take.first:
                missing = (chunk.first - take.first) / RATE
                self._post(Fault(self._now(), "take-late", f"{take.path} begins {missing:.3f} s late"))
        file = take.file
        if file is None:
            return
        try:
            for at in range(take.next, chunk.first, RATE):
                file.write(np.zeros(min(RATE, chunk.first - at), dtype=np.float32))
            file.write(chunk.samples)
            take.next = chunk.end
        except DeviceError:
            self._abandon(take)
            raise

    def _abandon(self, take: _Open) -> None:
        # One file, one fate: what comes after a gap of unknown length is not added to it.
        self._post(Fault(self._now(), "take-lost", f"{take.path} ends here, the rest of the take is lost"))
        file, take.file = take.file, None
        try:
            if file is not None:
                take.rescued = file.close()
        except DeviceError as error:
            self._complain(error)

    def _close(self, number: int) -> None:
        take = self._takes.pop(number)
        samples = take.rescued
        try:
            if take.file is not None:
                samples = take.file.close()
        except DeviceError as error:
            self._complain(error)
            return
        if samples:
            self._post(TakeSaved(self._now(), number, samples))

    def _sync(self) -> None:
        for take in self._takes.values():
            if take.file is None:
                continue
            try:
                take.file.sync()
            except DeviceError as error:
                self._abandon(take)
                self._complain(error)

    def _keep_settings(self, job: KeepSettings) -> None:
        before = self._stick.read_text(SETTINGS)
        if before == job.text:
            return
        if before:
            self._stick.write_text(SETTINGS_BEFORE, before)
        self._stick.write_text(SETTINGS, job.text)

    def _look_at_stick(self) -> None:
        present = self._stick.present
        seen = (present, self._stick.free_bytes() // FREE_STEP if present else 0)
        self._blocked = not present
        if seen != self._seen:
            self._seen = seen
            why = "" if present else "stick-out"
            self._post(StickChanged(self._now(), present, seen[1] * FREE_STEP, why))

    def _report_drops(self) -> None:
        dropped = (self._dropped_sound, self._dropped_commands)
        if dropped != self._told:
            sound, commands = dropped[0] - self._told[0], dropped[1] - self._told[1]
            self._told = dropped
            detail = f"the stick is too slow: {sound / RATE:.3f} s of sound and {commands} lines were lost"
            self._post(Fault(self._now(), "take-lost", detail))

    def _warn_if_slow(self) -> None:
        slow = self.waiting > SLOW_SECONDS * RATE
        if slow and not self._slow:
            self._post(Fault(self._now(), "stick-slow", f"{self.waiting / RATE:.1f} s of sound wait for the stick"))
        self._slow = slow
