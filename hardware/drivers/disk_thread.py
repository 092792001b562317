"""Writes the stick in the order of the commands, on its own thread, so that a slow stick never holds up the sound."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import Any, Final

from firmware.commands import (
    AppendLine,
    CloseTake,
    Command,
    DeleteTakes,
    KeepSettings,
    OpenTake,
    ReleaseStick,
    WriteText,
)
from firmware.errors import DeviceError, KeelnoteError
from firmware.events import Fault
from firmware.messages import sentence_of
from firmware.ports import Now, Post, Stick
from firmware.take_events import StickChanged, TakeSaved, TakesDeleted
from firmware.takes.recorder import Chunk
from firmware.units import RATE
from hardware.drivers.disk_queue import ROOM_COMMANDS, DiskQueue, Job
from hardware.drivers.kept_settings import keep_settings
from hardware.drivers.kept_texts import KeptTexts
from hardware.drivers.stick_errors import BUSY, OUT, stick_error
from hardware.drivers.take_backlog import MEMORY
from hardware.drivers.take_eraser import erase_takes
from hardware.drivers.take_part import Order
from hardware.drivers.take_spool import Spool
from hardware.drivers.take_writer import TakeWriter

ROOM_SECONDS: Final = 30
"""Sound that may wait for the stick; cheap sticks pause for seconds while they tidy up."""

SYNC_SAMPLES: Final = RATE * 3 // 4
"""Between two syncs. With what the encoder holds back and the recorder's lag, a power cut takes 1.2 s at most."""

MOST_AWAY: Final = 4
"""Takes that wait for their stick and may still hold sound in memory."""

WAKE_SECONDS: Final = 0.1
"""How often the thread looks even if nobody woke it."""

FREE_STEP: Final = 5_000_000
"""A change of room that is worth an event: about a minute of sound."""

SLOW_SECONDS: Final = 2
"""Sound that waits for this long is worth a word to the director."""

REPORT: Final = "report.txt"

AT_ONCE: Final = (Chunk, OpenTake, CloseTake, ReleaseStick)
"""Jobs that are done when they come or never; the others are kept while there is no stick."""


class DiskThread:
    """Everything that is written to the stick goes through here.

    `submit` never waits. Either `start` a thread, or call `pump` from a loop that has no threads; both do the same.
    Errors of the stick become Fault events, once for each state of the stick, and lines of report.txt; texts and lines
    are kept meanwhile and written when the stick is back, and so are takes (`hardware.drivers.take_writer`). Sound for
    which the queue had no room is replaced by silence of the same length, so
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
    spool : Spool or None
        Where on the box's card takes wait for a stick that is away; without it, a minute of them in memory.
    """

    def __init__(
        self, stick: Stick, post: Post, now: Now, *, room: int = ROOM_SECONDS * RATE, spool: Spool | None = None
    ) -> None:
        self._stick = stick
        self._spool = spool
        self._post = post
        self._now = now
        self._jobs = DiskQueue(room)
        self._kept: deque[Command] = deque()
        self._takes: dict[int, TakeWriter] = {}
        self._texts = KeptTexts(spool.folder if spool is not None else None)
        self._synced = now()
        self._trouble = ""
        self._blocked = False
        self._seen: tuple[bool, int, str] | None = None
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
            DeleteTakes: self._delete_takes,
            AppendLine: lambda job: self._stick.append_line(job.path, job.line),
            ReleaseStick: self._release,
            KeepSettings: lambda job: keep_settings(self._stick, job.text),
        }

    @property
    def dropped(self) -> int:
        """Samples for which there was no room, since the start."""
        return self._jobs.dropped_sound

    @property
    def dropped_commands(self) -> int:
        """Commands for which there was no room, since the start."""
        return self._jobs.dropped_commands

    @property
    def waiting(self) -> int:
        """Samples that wait for the stick."""
        return self._jobs.waiting

    @property
    def idle(self) -> bool:
        """Whether all that was submitted is on the stick."""
        return not self._jobs and not self._kept and not any(take.away for take in self._takes.values())

    def submit(self, job: Job) -> bool:
        """Queue a command, or a chunk of a take; false if there was no room. Never waits and never raises.

        After `stop` it is written at once, on the caller's thread: the last lines come when the last take is safe.
        """
        fits = self._jobs.put(job)
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
                self._do(self._jobs.take())
                self._keep_watch()
            self._advance()
            self._keep_watch()
            self._report_drops()
            self._retry()

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
            for number, take in tuple(self._takes.items()):
                take.ended = True
                self._close_if_done(number, take)
            for take in self._takes.values():
                take.keep()
            self._takes.clear()
            self._retry()
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
        if self._seen is None:
            self._find_kept()
        if self._seen is None or self._now() - self._synced >= SYNC_SAMPLES:
            self._synced = self._now()
            self._sync()
            self._look_at_stick()

    def _do(self, job: Job) -> None:
        action = self._table.get(type(job))
        if action is None:
            self._tell("error", f"the disk can't do {type(job).__name__}")
            return
        if isinstance(job, DeleteTakes):
            self._discard(job)
        if self._kept and not isinstance(job, AT_ONCE):
            self._keep(job)  # behind those that wait already, in order
            return
        if isinstance(job, KeepSettings | WriteText) and self._now() - self._synced >= SYNC_SAMPLES // 4:
            self._sync()  # a text needs several syncs of its own, for which a slow stick takes long: sound goes first
        try:
            action(job)
        except DeviceError as error:
            self._complain(error)
            if not isinstance(job, AT_ONCE):
                self._keep(job)
        except KeelnoteError as error:
            self._tell(error.message, error.text)

    def _keep(self, job: Command) -> None:
        if len(self._kept) < ROOM_COMMANDS:
            self._kept.append(job)
            if self._blocked:
                self._texts.add(job)
        else:
            self._jobs.given_up += 1

    def _retry(self) -> None:
        # At most one failing try for each look at the stick, which lifts the block.
        while self._kept and not self._blocked:
            job = self._kept[0]
            try:
                self._table[type(job)](job)
            except DeviceError as error:
                self._complain(error)
                return
            except KeelnoteError as error:
                self._tell(error.message, error.text)
            self._kept.popleft()
            self._trouble = ""
        if not self._kept:
            self._texts.clear()

    def _complain(self, error: KeelnoteError) -> None:
        self._blocked = self._blocked or isinstance(error, DeviceError)
        if error.message != self._trouble:
            self._trouble = error.message
            self._tell(error.message, error.text)

    def _tell(self, message: str, detail: str) -> None:
        """Tell the box, and write it down for whoever reads the stick."""
        self._post(Fault(self._now(), message, detail))
        self._keep(AppendLine(REPORT, sentence_of(message, detail)))

    def _open_take(self, job: OpenTake) -> None:
        self._trouble = ""  # whoever asks for a take is told each time why the stick refuses it
        order = Order(job.path, job.number, max(job.first, 0), job.channels, job.part_samples)
        waiting = sum(take.away and take.held > 0 for take in self._takes.values())
        memory = MEMORY if waiting < MOST_AWAY else 0
        take = TakeWriter(self._stick, self._spool, order, self._tell, self._complain, memory)
        self._takes[job.number] = take
        take.open()

    def _chunk(self, chunk: Chunk) -> None:
        take = self._takes.get(chunk.number)
        if take is None or take.ended:
            return
        take.add(chunk)
        take.advance()
        self._close_if_done(chunk.number, take)

    def _advance(self) -> None:
        for number, take in tuple(self._takes.items()):
            take.advance()
            self._close_if_done(number, take)

    def _close_if_done(self, number: int, take: TakeWriter) -> None:
        if take.finish():
            del self._takes[number]
            if take.number is None:
                for job in self._texts.of(take.path, REPORT):
                    self._keep(job)
            if take.number is not None:
                samples = sum(length for _, length in take.parts)
                self._post(TakeSaved(self._now(), take.number, samples, take.parts))

    def _sync(self) -> None:
        for take in self._takes.values():
            take.sync()

    def _bring_back(self, free: int) -> None:
        """Let takes that wait go on, if there is room for them."""
        for take in self._takes.values():
            if take.away and free >= take.room_wanted:
                take.come_back()

    def _find_kept(self) -> None:
        """Take up what an earlier run left on the card."""
        kept = self._spool.kept() if self._spool is not None else ()
        for place, file in enumerate(kept, start=1):
            if self._spool is not None and file.samples:
                self._takes[-place] = TakeWriter.of_kept(self._stick, self._spool, file, self._tell, self._complain)
            else:
                file.remove()
        paths = [take.path for take in self._takes.values() if take.number is None]
        self._texts.take_up(wanted=bool(paths))
        if paths:
            self._tell("take-kept", "; ".join(paths))

    def _release(self, _job: ReleaseStick) -> None:
        """Let the stick go, unless a take is on its way to it."""
        busy = [take.path for take in self._takes.values() if not take.away]
        try:
            if busy:
                raise stick_error(", ".join(busy), BUSY)
            self._stick.release()
        except DeviceError as error:
            self._tell(error.message, error.text)
            return
        self._trouble = OUT  # what is written from now on waits for the stick, and nobody has to be told
        self._look_at_stick()

    def _discard(self, job: DeleteTakes) -> None:
        """Delete what waits of takes that shall be deleted, at once; a take that still runs is left."""
        for number, take in tuple(self._takes.items()):
            if take.ended and take.away and take.is_of(job.folder, job.number):
                take.discard()
                del self._takes[number]

    def _delete_takes(self, job: DeleteTakes) -> None:
        erased = erase_takes(self._stick, job.folder, job.number)
        self._post(TakesDeleted(self._now(), job.number, len(erased.takes)))
        for line in erased.refused:
            self._tell("stick-error", line)

    def _look_at_stick(self) -> None:
        present = self._stick.present
        free = self._stick.free_bytes() if present else 0
        why = self._stick.trouble()
        seen = (present, free // FREE_STEP, why)
        self._blocked = not present
        if present:
            back = self._seen is not None and not self._seen[0]
            if back:
                self._trouble = ""
            self._bring_back(free)
            if back:
                self._mend()
        else:
            for take in self._takes.values():
                take.pulled()
        if seen != self._seen:
            # Trouble is told once, not each time that the room changes.
            news = "" if self._seen is not None and self._seen[2] == why else why
            self._seen = seen
            self._post(StickChanged(self._now(), present, seen[1] * FREE_STEP, news))
            if news and news != OUT:
                self._keep(AppendLine(REPORT, sentence_of(news, ", ".join(self._stick.odd()))))

    def _mend(self) -> None:
        mended = self._stick.mend()
        if mended:
            self._tell("take-mended", ", ".join(mended))

    def _report_drops(self) -> None:
        sound, commands = self._jobs.newly_dropped()
        if sound or commands:
            detail = f"the stick is too slow: {sound / RATE:.3f} s of sound and {commands} lines were lost"
            self._tell("take-lost", detail)

    def _warn_if_slow(self) -> None:
        slow = self.waiting > SLOW_SECONDS * RATE
        if slow and not self._slow:
            self._tell("stick-slow", f"{self.waiting / RATE:.1f} s of sound wait for the stick")
        self._slow = slow
