"""Advice on the gain of the microphone: told when a take begins, and when it changes while one runs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from firmware.events import Event, Noticed, SettingChanged
from firmware.heard_events import LevelRead
from firmware.parts.part import Follow, Part, Start
from firmware.take_events import TakeStarted, TakeStopped
from firmware.takes.gain_advice import GainWatch, advice_words
from firmware.units import RATE

NAME: Final = "gain"
APART: Final = 120 * RATE
"""Samples between two words of advice, unless a new take begins."""

Outcome = tuple["GainState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class GainState:
    """What the last minute was like, and what was said of it."""

    gain_db: float
    watch: GainWatch = field(default_factory=GainWatch)
    taking: bool = False
    told_at: int | None = None


def _start(start: Start) -> GainState:
    return GainState(start.values.number("mic_gain"))


def _heard(state: GainState, event: LevelRead) -> Outcome:
    state = replace(state, watch=state.watch.heard(event.at, event.peak_db, clipped=event.clipped))
    due = state.taking and (state.told_at is None or event.at - state.told_at >= APART)
    return _advise(state, event) if due else (state, ())


def _advise(state: GainState, event: Event) -> Outcome:
    advice = advice_words(state.watch.advice_db)
    if not advice:
        return state, ()
    return replace(state, told_at=event.at), (Noticed(event.at, "gain-advice", (("advice", advice),)),)


def _began(state: GainState, event: TakeStarted) -> Outcome:
    return _advise(replace(state, taking=True, told_at=None), event)


def _ended(state: GainState, _event: TakeStopped) -> Outcome:
    return replace(state, taking=False), ()


def _turned(state: GainState, event: SettingChanged) -> Outcome:
    if event.name != "mic_gain":
        return state, ()
    gain_db = float(event.value)
    return replace(state, gain_db=gain_db, watch=state.watch.turned(gain_db - state.gain_db)), ()


GAIN = Part(
    name=NAME,
    start=_start,
    handlers={LevelRead: _heard, TakeStarted: _began, TakeStopped: _ended, SettingChanged: _turned},
)
