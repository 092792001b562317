"""The box as it is, kept for the case that its process ends: then the next one takes up the drone where it was.

The state lies in memory, in the folder that the service manager makes (RuntimeDirectory) and that ends with the power:
a box that is switched on begins in silence. Settings that no stick takes are kept on the box's card, two generations.
"""

from __future__ import annotations

import json
import os
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from firmware.commands import KeepSettings, KeepState
from firmware.errors import KeelnoteError
from firmware.parts.part import Start
from firmware.ports import Stick
from firmware.settings import Values, read_settings, write_settings
from hardware.drivers.kept_settings import keep_settings, kept_settings

NAME: Final = "state.json"

RESTARTED: Final = "restarted"
"""The line in `firmware.messages` that tells of it."""

SETTINGS_BEFORE: Final = "settings-before"
"""The same, of settings that are not the last ones."""

MOST_TRIES: Final = 3
"""Starts with one state that end at once; then it may be the state itself that ends them, and it is left."""

SETTLED_SECONDS: Final = 10.0
"""A process that has run for this long did not end at once."""

LOOK_SECONDS: Final = 0.25
"""How often it looks for the end even if nothing changes."""


@dataclass(frozen=True, slots=True)
class State:
    """What the next process needs: all settings, and whether the drone sounds."""

    values: Values
    sounding: bool


@dataclass(frozen=True, slots=True)
class CardSettings:
    """Settings on the card, None if there are none; `before` if the last ones are damaged and these are older."""

    values: Values | None = None
    before: bool = False


class StateKeeper:
    """Writes the state on a thread of its own, which waits for no stick: only the latest counts.

    Parameters
    ----------
    folder
        In memory; None keeps no state.
    stick
        Settings are kept on the card only while this one is away.
    card
        A folder on the box's card, as a stick; None keeps no settings there.
    now
        Seconds of a clock that never jumps; given by tests.
    """

    def __init__(
        self,
        folder: Path | None,
        stick: Stick,
        card: Stick | None = None,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        self._now = now
        self._begun = now()
        self._tries = 0
        self._folder = folder
        self._stick = stick
        self._card = card
        self._state: KeepState | None = None
        self._last: State | None = None
        self._settings: KeepSettings | None = None
        self._wake = threading.Event()
        self._ended = False
        self._thread: threading.Thread | None = None
        self.error = ""
        """Why the last state could not be kept."""
        self.card_refuses = False
        """Whether the card took the last settings that it was given no more."""

    def before(self) -> State | None:
        """The state in which an earlier process left off, None if it ended in order, or if it ends every process."""
        if self._folder is None:
            return None
        try:
            found = json.loads((self._folder / NAME).read_text(encoding="utf-8"))
            self._tries = int(found["tries"]) + 1
            if self._tries > MOST_TRIES:
                return None
            values, _ = read_settings(str(found["settings"]), NAME)
            return State(values, found["sounding"] is True)
        except (OSError, ValueError, KeyError, TypeError):
            return None

    @property
    def last(self) -> State | None:
        """What was kept last by this process."""
        return self._last

    def settings(self) -> CardSettings:
        """The settings on the card, for a start without a stick."""
        with suppress(KeelnoteError):
            kept = kept_settings(self._card) if self._card is not None else None
            if kept is not None and kept.text is not None:
                return CardSettings(read_settings(kept.text, kept.source)[0], bool(kept.why))
        return CardSettings()

    def keep(self, command: KeepState | KeepSettings) -> None:
        """Take in what shall be kept; never waits."""
        if isinstance(command, KeepState):
            self._state = command
            self._last = State(command.values, command.sounding)
        else:
            self._settings = command
        self._wake.set()

    def start(self) -> None:
        """Begin to write."""
        self._ended = False
        self._thread = threading.Thread(target=self._run, name="keelnote-state", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End; what waits is written. A second call does nothing."""
        self._ended = True
        self._wake.set()
        thread, self._thread = self._thread, None
        if thread is not None:
            thread.join()

    def forget(self) -> None:
        """Drop the state: the box ends in order, and the next start is a new one."""
        if self._folder is not None:
            with suppress(OSError):
                (self._folder / NAME).unlink(missing_ok=True)

    def _run(self) -> None:
        ended = False
        while not ended:
            self._wake.wait(LOOK_SECONDS)
            self._wake.clear()
            ended = self._ended
            state, self._state = self._state, None
            settings, self._settings = self._settings, None
            if state is not None:
                self._try(lambda: self._write(state))  # noqa: B023 - called within this turn only
            if settings is not None and self._card is not None and not self._stick.present:
                card = self._card
                self.card_refuses = not self._try(lambda: keep_settings(card, settings.text))  # noqa: B023 - the same

    def _try(self, work: Callable[[], object]) -> bool:
        try:
            work()
        except (OSError, KeelnoteError) as error:  # a card that is full or worn out; the box plays on
            self.error = str(error)
            return False
        self.error = ""
        return True

    def _write(self, state: KeepState) -> None:
        if self._folder is None:
            return
        tries = 0 if self._now() - self._begun > SETTLED_SECONDS else self._tries
        text = json.dumps({"tries": tries, "sounding": state.sounding, "settings": write_settings(state.values)})
        new = self._folder / f"{NAME}.new"
        new.write_text(text, encoding="utf-8")
        new.replace(self._folder / NAME)


def resumed(start: Start, state: State | None) -> Start:
    """A start that goes on where an earlier process left off, and says so."""
    if state is None:
        return start
    return replace(start, values=state.values, sounding=state.sounding, notices=(RESTARTED, *start.notices))


def carried(start: Start, last: State | None) -> Start:
    """A start in mid-rehearsal, because a stick came: a drone that sounds goes on as it is, whatever the stick says."""
    if last is None or not last.sounding:
        return start
    return replace(start, values=last.values, sounding=True)


def own_folder() -> Path | None:
    """The folder in memory that the service manager made for this process (systemd.exec, RuntimeDirectory)."""
    named = os.environ.get("RUNTIME_DIRECTORY", "").split(":")[0]
    return Path(named) if named else None
