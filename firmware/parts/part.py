"""What a part is: a frozen state and pure functions from (state, event) to (state, what follows)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from firmware.commands import Command
from firmware.events import Adjusted, Event, PlanOpened, PlanStepped, SettingChanged, Wish, Wished
from firmware.plan.plan import Plan
from firmware.plan.tuning_file import OwnTuning
from firmware.pulse import Rhythms
from firmware.settings import DEFAULTS, Value, Values, setting_named
from firmware.sheet.past import Past

S = TypeVar("S")

Follow = Event | Command
Address = type[Event] | Wish
"""What a handler answers to: a type of event, or one wish."""


@dataclass(frozen=True, slots=True)
class Start:
    """What the box knows when it is switched on."""

    values: Values = DEFAULTS
    plan: Plan = field(default_factory=Plan)
    number: int = 1
    """Number of this rehearsal."""
    date: str = ""
    """Date as shown, empty when the box has no clock."""
    stick: bool = False
    notices: tuple[str, ...] = ()
    """Lines in `firmware.messages` to show first (a bad setting, say)."""
    rhythms: Rhythms = field(default_factory=Rhythms)
    """The user's own grooves and pieces."""

    past: tuple[Past, ...] = ()
    """Figures of earlier rehearsals on the stick, the oldest first."""
    plans: tuple[str, ...] = ()
    """Paths of the plans and scores on the stick, the one that is open among them."""
    tunings: tuple[OwnTuning, ...] = ()
    """The user's own tunings."""
    plan_path: str = ""
    """Path of the plan that is open."""
    sounding: bool = False
    """Whether the drone sounds at once: it did when the process before this one ended by itself."""

    @property
    def folder(self) -> str:
        """Folder of this rehearsal on the stick."""
        return f"rehearsals/{self.number:04d} {self.date}".rstrip()


def _nothing(*_: object) -> dict[str, Any]:
    return {}


@dataclass(frozen=True, slots=True)
class Part(Generic[S]):
    """One part of the box.

    Parameters
    ----------
    name : str
        Its name in the table.
    start : function
        Makes its first state.
    handlers : mapping
        From an address to a function (state, event) -> (state, events and commands that follow).
    fields : frozenset of str
        Fields of the panel whose turns it takes.
    sound : function
        From its state to what it contributes to the Sound snapshot, by field name.
    show : function
        From its state and the sample count to what it contributes to the View, by field name.
    """

    name: str
    start: Callable[[Start], S]
    handlers: Mapping[Address, Callable[[S, Any], tuple[S, tuple[Follow, ...]]]]
    fields: frozenset[str] = frozenset()
    sound: Callable[[S], dict[str, Any]] = _nothing
    show: Callable[[S, int], dict[str, Any]] = _nothing


def address_of(event: Event) -> Address:
    """The address of an event: its wish if it is one, else its type."""
    return event.wish if isinstance(event, Wished) else type(event)


def turned(values: Values, event: Adjusted) -> tuple[Values, tuple[Follow, ...]]:
    """Turn a setting by some detents and say so."""
    value = setting_named(event.field).turned(values.entries[event.field], event.steps)
    return changed(values, event.at, event.field, value)


def changed(values: Values, at: int, name: str, value: Value) -> tuple[Values, tuple[Follow, ...]]:
    """Give a setting a new value and say so, unless it has it already."""
    fresh = values.put(name, value)
    if fresh.entries[name] == values.entries[name]:
        return values, ()
    return fresh, (SettingChanged(at, name, fresh.entries[name]),)


def planned(values: Values, event: PlanStepped | PlanOpened) -> tuple[Values, tuple[Follow, ...]]:
    """Take from a plan, or a step of it, the settings that are held here."""
    follow: tuple[Follow, ...] = ()
    for name, value in event.values:
        if name in values.entries:
            values, more = changed(values, event.at, name, value)
            follow += more
    return values, follow
