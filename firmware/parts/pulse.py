"""The pulse: a plain click, on and off, tapped or turned to its tempo."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median
from typing import Any, Final

from firmware.events import Adjusted, Noticed, PlanStepped, Wish, Wished
from firmware.parts.part import Follow, Part, Start, changed, planned, turned
from firmware.settings import SETTINGS, Values, setting_named
from firmware.sound.snapshot import PulseSound
from firmware.units import RATE

NAME: Final = "pulse"
TAPS_KEPT: Final = 5
"""The tempo is the median of the last four gaps, so that one bad tap does no harm."""
LONGEST_GAP: Final = 3 * RATE
"""Samples; a longer pause begins a new tempo (20 beats a minute)."""


@dataclass(frozen=True, slots=True)
class PulseState:
    """The pulse's settings, whether it clicks, where its bar 1 began, and the taps so far."""

    values: Values
    on: bool = False
    start: int = 0
    taps: tuple[int, ...] = ()

    @property
    def period(self) -> float:
        """Samples from beat to beat."""
        return 60.0 * RATE / self.values.number("tempo")


def place(state: PulseState, at: int) -> tuple[int, int]:
    """Bar and beat at a sample count, both from 1; (0, 0) before the first beat or when off."""
    if not state.on or at < state.start:
        return 0, 0
    bar, beat = divmod(int((at - state.start) / state.period), state.values.whole("beats"))
    return bar + 1, beat + 1


def _start(start: Start) -> PulseState:
    return PulseState(start.values.owned(NAME))


def _toggle(state: PulseState, event: Wished) -> tuple[PulseState, tuple[Follow, ...]]:
    return replace(state, on=not state.on, start=event.at, taps=()), ()


def _tap(state: PulseState, event: Wished) -> tuple[PulseState, tuple[Follow, ...]]:
    fresh = not state.taps or event.at - state.taps[-1] > LONGEST_GAP
    taps = (event.at,) if fresh else (*state.taps, event.at)[-TAPS_KEPT:]
    if len(taps) < 2:
        return replace(state, taps=taps, on=False), ()
    gap = median(later - earlier for earlier, later in pairwise(taps))
    setting = setting_named("tempo")
    tempo = min(max(round(60.0 * RATE / max(gap, 1), 1), setting.low), setting.high)
    values, follow = changed(state.values, event.at, "tempo", tempo)
    state = replace(state, values=values, taps=taps, on=True)
    state = replace(state, start=event.at + round(state.period))
    return state, (*follow, Noticed(event.at, "tempo-set", (("tempo", f"{tempo:g}"),)))


def _keep_phase(before: PulseState, after: PulseState, at: int) -> PulseState:
    """Let a new tempo begin at the next beat, counting on from it."""
    if not before.on or at < before.start or before.period == after.period:
        return after
    done = int((at - before.start) / before.period) + 1
    next_beat = before.start + done * before.period
    return replace(after, start=round(next_beat - done * after.period))


def _adjust(state: PulseState, event: Adjusted) -> tuple[PulseState, tuple[Follow, ...]]:
    values, follow = turned(state.values, event)
    return _keep_phase(state, replace(state, values=values), event.at), follow


def _plan(state: PulseState, event: PlanStepped) -> tuple[PulseState, tuple[Follow, ...]]:
    values, follow = planned(state.values, event)
    return _keep_phase(state, replace(state, values=values), event.at), follow


def _sound(state: PulseState) -> dict[str, Any]:
    values = state.values
    pulse = PulseSound(
        on=state.on,
        start=state.start,
        tempo=values.number("tempo"),
        beats=values.whole("beats"),
        level_db=values.number("pulse_level"),
    )
    return {"pulse": pulse}


def _show(state: PulseState, at: int) -> dict[str, Any]:
    bar, beat = place(state, at)
    values = state.values
    return {
        "pulse_on": state.on,
        "bar": bar,
        "beat": beat,
        "beats": values.whole("beats"),
        "tempo": values.number("tempo"),
    }


PULSE = Part(
    name=NAME,
    start=_start,
    handlers={
        Wish.PULSE_TOGGLE: _toggle,
        Wish.PULSE_TAP: _tap,
        Adjusted: _adjust,
        PlanStepped: _plan,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    sound=_sound,
    show=_show,
)
