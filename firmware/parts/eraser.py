"""The eraser: takes are deleted by a long turn of the knob to the right, which no sleeve and no blind hand makes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final

from firmware.events import Adjusted, Noticed
from firmware.parts.part import Follow, Part, Start, turned
from firmware.settings import SETTINGS, Values
from firmware.take_events import DeletionWished, TakesDeleted
from firmware.units import RATE

NAME: Final = "eraser"

DETENTS: Final[Mapping[str, int]] = MappingProxyType({"delete_take": 12, "delete_all": 24})
"""Detents to the right that it takes: half a turn of a common knob for one take, a whole one for all."""

PATIENCE: Final = 5 * RATE
"""After so long a rest the turn begins anew, as the cursor goes back to the tonic."""

Outcome = tuple["EraserState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class EraserState:
    """How long takes are kept, and how far the knob has come."""

    values: Values
    field: str = ""
    turned: int = 0
    at: int = 0


def _start(start: Start) -> EraserState:
    return EraserState(start.values.owned(NAME))


def _adjust(state: EraserState, event: Adjusted) -> Outcome:
    if event.field not in DETENTS:
        values, follow = turned(state.values, event)
        return replace(state, values=values), follow
    gone_on = event.field == state.field and event.at - state.at <= PATIENCE
    done = max((state.turned if gone_on else 0) + event.steps, 0) if event.steps > 0 else 0
    state = replace(state, field=event.field, turned=done, at=event.at)
    if done < DETENTS[event.field]:
        return state, ()
    return replace(state, field="", turned=0), (DeletionWished(event.at, event.field == "delete_all"),)


def _deleted(state: EraserState, event: TakesDeleted) -> Outcome:
    return state, (Noticed(event.at, "takes-deleted", (("count", str(event.count)),)),)


def _show(state: EraserState, at: int) -> dict[str, Any]:
    over = at - state.at > PATIENCE
    return {"erase_left": tuple((n, d - (0 if over or n != state.field else state.turned)) for n, d in DETENTS.items())}


ERASER = Part(
    name=NAME,
    start=_start,
    handlers={Adjusted: _adjust, TakesDeleted: _deleted},
    fields=frozenset({s.name for s in SETTINGS if s.owner == NAME} | DETENTS.keys()),
    show=_show,
)
