"""The lamp: one light that says whether the box is ready, takes, or is in trouble."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from firmware.commands import Light
from firmware.events import Fault, PowerDown, SwitchedOn
from firmware.lamp import Lamp
from firmware.parts.part import Follow, Part, Start
from firmware.take_events import StickChanged, TakeStarted, TakeStopped

NAME: Final = "lamp"

STICK: Final = frozenset({"stick-full", "stick-error", "spool-full", "take-lost"})
"""Messages of trouble with the stick; it ends when a stick with room is there, or none at all."""

SOUND: Final[Mapping[str, bool]] = MappingProxyType({"no-sound-card": True, "sound-lost": True, "sound-back": False})
"""Which messages begin trouble with the sound card, and which end it."""

HARMLESS: Final = frozenset({"", "stick-out", "stick-two", "stick-released"})
"""What may be said of the stick while all is well: most of the box needs none."""

Outcome = tuple["LampState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class LampState:
    """What the light depends on, and what it shows."""

    taking: bool = False
    deaf: bool = False
    bad_stick: bool = False
    shown: Lamp = Lamp.STARTING


def _start(_: Start) -> LampState:
    return LampState()


def _lit(state: LampState) -> Outcome:
    trouble = state.deaf or state.bad_stick
    lamp = Lamp.TROUBLE if trouble else Lamp.TAKING if state.taking else Lamp.READY
    return (state, ()) if lamp == state.shown else (replace(state, shown=lamp), (Light(lamp),))


def _switched_on(state: LampState, _: SwitchedOn) -> Outcome:
    return _lit(state)


def _fault(state: LampState, event: Fault) -> Outcome:
    deaf = SOUND.get(event.message, state.deaf)
    return _lit(replace(state, deaf=deaf, bad_stick=state.bad_stick or event.message in STICK))


def _stick(state: LampState, event: StickChanged) -> Outcome:
    full = state.bad_stick and event.present and event.free_bytes == 0
    return _lit(replace(state, bad_stick=full or event.why not in HARMLESS))


def _started(state: LampState, _: TakeStarted) -> Outcome:
    return _lit(replace(state, taking=True))


def _stopped(state: LampState, _: TakeStopped) -> Outcome:
    return _lit(replace(state, taking=False))


def _power_down(state: LampState, _: PowerDown) -> Outcome:
    return replace(state, shown=Lamp.OFF), (Light(Lamp.OFF),)


LAMP: Final = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        Fault: _fault,
        StickChanged: _stick,
        TakeStarted: _started,
        TakeStopped: _stopped,
        PowerDown: _power_down,
    },
)
