"""Reads the plan or score that was chosen on the panel, on a thread of its own where there are threads."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Final

from firmware.errors import KeelnoteError
from firmware.events import PlanRead
from firmware.music.languages.english import ENGLISH
from firmware.plan.plan import Plan
from firmware.ports import Now, Post, Stick
from hardware.plan_files import KINDS, LONGEST, MIDI, SCORES, TEXT, plan_of_file

PLANS: Final = "plans"
MOST_PLANS: Final = 64
"""Plans of the folder that the knob goes through."""


def plans_on(stick: Stick) -> tuple[str, ...]:
    """Paths of the plans on the stick by name, those in TOML before scores, and scores before MIDI files."""
    try:
        names = stick.names(PLANS)
    except KeelnoteError:
        return ()

    def rank(name: str) -> int:
        return next(place for place, kinds in enumerate((TEXT, SCORES, MIDI)) if name.lower().endswith(kinds))

    # Computers leave files beside others' whose names begin with a dot.
    found = [name for name in names if name.lower().endswith(KINDS) and not name.startswith(".")]
    return tuple(f"{PLANS}/{name}" for name in sorted(found, key=rank)[:MOST_PLANS])


def plan_on(stick: Stick, path: str, names: str = ENGLISH.name) -> tuple[Plan | None, tuple[str, ...]]:
    """Read a plan or score from the stick, with a line for whatever can't be used; None if nothing of it can.

    `names` are the room's note names; what a plan says of its own stays in it.
    """
    try:
        data = stick.read_bytes(path, LONGEST + 1)
        if data is None:
            return None, (f"{path} is no longer on the stick",)
        plan, problems, remarks = plan_of_file(data, path, names=names)
    except KeelnoteError as error:
        return None, (error.text,)
    left_out = (f"{path}, {remark}" for remark in remarks if remark not in plan.remarks)
    return plan, (*(problem.text for problem in problems), *left_out)


class PlanReader:
    """Reads plans when asked; of several that are asked for while one is read only the last is.

    Parameters
    ----------
    stick, post, now
        Where the plans are, who is told, and the sample count of the one clock.
    background : bool
        Whether to read on a thread of its own; without, a plan is read before `open` returns.
    """

    def __init__(self, stick: Stick, post: Post, now: Now, *, background: bool) -> None:
        self._stick = stick
        self._post = post
        self._now = now
        self._background = background
        self._lock = threading.Lock()
        self._wanted = ("", "")
        self._reading = False

    def open(self, path: str, names: str = ENGLISH.name) -> None:
        """Read the plan at a path in a room with these note names, and post it."""
        with self._lock:
            self._wanted = (path, names)
            if self._reading:
                return
            self._reading = True
        if self._background:
            threading.Thread(target=self._run, name="keelnote-plan", daemon=True).start()
        else:
            self._run()

    def _run(self) -> None:
        for path, names in self._orders():
            plan, problems = plan_on(self._stick, path, names)
            self._post(PlanRead(self._now(), path, plan, problems))

    def _orders(self) -> Iterator[tuple[str, str]]:
        while True:
            with self._lock:
                wanted, self._wanted = self._wanted, ("", "")
                if not wanted[0]:
                    self._reading = False
                    return
            yield wanted
