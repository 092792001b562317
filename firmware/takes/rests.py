"""Where the music begins again after a long rest, from the level of the microphone alone.

The rule: the room's floor is the quietest second of the last two minutes. A rest is time in which every tenth of a
second lies within 6 dB of the floor, but for single louder ones, such as a click of the pulse; music has begun again
when for half a second the level is 12 dB above the floor. Speech counts as sound: a director who talks makes no rest.
When the box's own sound changes, all of this is forgotten, because the floor changes with it.
"""

from __future__ import annotations

import statistics
from dataclasses import dataclass, replace
from typing import Final

QUIET_DB: Final = 6.0
LOUD_DB: Final = 12.0
WINDOW: Final = 10
"""Levels whose median counts: a second."""
AGAIN: Final = 5
"""Levels above which the music must stay: half a second."""
FLOOR_SECONDS: Final = 120
"""The floor is the lowest of so many seconds."""


@dataclass(frozen=True, slots=True)
class RestState:
    """What the levels of the last minutes say; levels come ten times a second."""

    levels: tuple[float, ...] = ()
    seconds: tuple[float, ...] = ()
    """Medians of whole seconds, for the floor."""
    count: int = 0
    quiet_since: int | None = None
    loud_since: int | None = None
    loud: int = 0
    """Levels in a row that were loud."""


@dataclass(frozen=True, slots=True)
class Resumed:
    """The music began again at a sample, after a rest of so many samples."""

    since: int
    rest: int


def step(state: RestState, at: int, level_db: float, span: int) -> tuple[RestState, Resumed | None]:
    """Take in a level.

    Parameters
    ----------
    state : RestState
        What is known.
    at : int
        Sample at which the level was complete.
    level_db : float
        RMS level of the `span` samples before `at`, in dB.
    span : int
        Samples of one level.

    Returns
    -------
    (RestState, Resumed or None)
        What is known now, and the end of a rest if it has just become certain.
    """
    levels = (*state.levels, level_db)[-WINDOW:]
    count = state.count + 1
    middle = statistics.median(levels)
    seconds = state.seconds
    if count % WINDOW == 0:
        seconds = (*seconds, middle)[-FLOOR_SECONDS:]
    state = replace(state, levels=levels, seconds=seconds, count=count)
    if not seconds:
        return state, None
    floor = min(seconds)
    if level_db > floor + LOUD_DB:
        begun = state.loud_since if state.loud_since is not None else at - span
        state = replace(state, loud=state.loud + 1, loud_since=begun)
    else:
        state = replace(state, loud=0, loud_since=None)
    if state.loud >= AGAIN:
        rest = None
        if state.quiet_since is not None and state.loud_since is not None:
            rest = Resumed(state.loud_since, state.loud_since - state.quiet_since)
        return replace(state, quiet_since=None), rest
    if state.quiet_since is None and middle <= floor + QUIET_DB:
        # Half of the window is quiet already; at the very beginning all of it.
        quiet = len(levels) if count <= WINDOW else WINDOW // 2 + 1
        return replace(state, quiet_since=at - span * quiet), None
    if state.quiet_since is not None and middle > floor + QUIET_DB and state.loud == 0:
        return replace(state, quiet_since=None), None
    return state, None
