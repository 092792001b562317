"""The keeper: holds the value of every setting and has them saved once they have rested."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.commands import KeepSettings, KeepState
from firmware.events import Event, HarmonyChanged, PowerDown, SettingChanged, Tick
from firmware.parts.part import Follow, Part, Start
from firmware.settings import Values, write_settings
from firmware.units import RATE

NAME: Final = "keeper"
REST: Final = 2 * RATE
"""Samples without a change before the file is written: a knob on its way writes nothing."""


@dataclass(frozen=True, slots=True)
class KeeperState:
    """All settings, and when the last one changed that is not saved yet."""

    values: Values
    changed_at: int | None = None
    sounding: bool = False
    """Whether the drone does."""


def _start(start: Start) -> KeeperState:
    return KeeperState(start.values)


def _change(state: KeeperState, event: SettingChanged) -> tuple[KeeperState, tuple[Follow, ...]]:
    state = replace(state, values=state.values.put(event.name, event.value), changed_at=event.at)
    return state, (KeepState(state.values, state.sounding),)


def _harmony(state: KeeperState, event: HarmonyChanged) -> tuple[KeeperState, tuple[Follow, ...]]:
    if event.sounding == state.sounding:
        return state, ()
    return replace(state, sounding=event.sounding), (KeepState(state.values, event.sounding),)


def _tick(state: KeeperState, event: Tick) -> tuple[KeeperState, tuple[Follow, ...]]:
    if state.changed_at is None or event.at - state.changed_at < REST:
        return state, ()
    return _save(state, event)


def _save(state: KeeperState, _event: Event) -> tuple[KeeperState, tuple[Follow, ...]]:
    if state.changed_at is None:
        return state, ()
    return replace(state, changed_at=None), (KeepSettings(write_settings(state.values)),)


def _show(state: KeeperState, _at: int) -> dict[str, Any]:
    return {"values": dict(state.values.entries)}


KEEPER = Part(
    name=NAME,
    start=_start,
    handlers={SettingChanged: _change, HarmonyChanged: _harmony, Tick: _tick, PowerDown: _save},
    show=_show,
)
