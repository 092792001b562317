"""Reads what is wanted of the stick while the box runs, on a thread of its own where there are threads."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Final

from firmware.errors import KeelnoteError
from firmware.events import PlanRead, StickListed
from firmware.music.languages.english import ENGLISH
from firmware.plan.plan import Plan
from firmware.ports import Now, Post, Stick
from hardware.own_tunings import tunings_on
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
    tunings = tuple(own.name for own in tunings_on(stick)[0]) if path.lower().endswith(TEXT) else None
    try:
        data = stick.read_bytes(path, LONGEST + 1)
        if data is None:
            return None, (f"{path} is no longer on the stick",)
        plan, problems, remarks = plan_of_file(data, path, names=names, tunings=tunings)
    except KeelnoteError as error:
        return None, (error.text,)
    left_out = (f"{path}, {remark}" for remark in remarks if remark not in plan.remarks)
    return plan, (*(problem.text for problem in problems), *left_out)


class PlanReader:
    """Reads plans, and what there is on a stick, when asked; of several plans that are asked for only the last is read.

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
        self._look = False
        self._reading = False

    def open(self, path: str, names: str = ENGLISH.name) -> None:
        """Read the plan at a path in a room with these note names, and post it."""
        with self._lock:
            self._wanted = (path, names)
        self._go()

    def look(self) -> None:
        """Find the plans and own tunings on the stick, and post them."""
        with self._lock:
            self._look = True
        self._go()

    def _go(self) -> None:
        with self._lock:
            if self._reading:
                return
            self._reading = True
        if self._background:
            threading.Thread(target=self._run, name="keelnote-plan", daemon=True).start()
        else:
            self._run()

    def _run(self) -> None:
        for look, (path, names) in self._orders():
            if look:
                tunings, problems = tunings_on(self._stick)
                told = tuple(problem.text for problem in problems)
                self._post(StickListed(self._now(), plans_on(self._stick), tunings, told))
            if path:
                plan, lines = plan_on(self._stick, path, names)
                self._post(PlanRead(self._now(), path, plan, lines))

    def _orders(self) -> Iterator[tuple[bool, tuple[str, str]]]:
        while True:
            with self._lock:
                look, self._look = self._look, False
                wanted, self._wanted = self._wanted, ("", "")
                if not look and not wanted[0]:
                    self._reading = False
                    return
            yield look, wanted
