"""The level: how loud the room is, the day's dose, and warnings of hum, clipping and a gain that follows the level."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Final

from firmware.events import Adjusted, Event, Noticed, PlanStepped, PowerDown
from firmware.heard_events import LevelRead
from firmware.hearing.exposure import FLOOR_DB, Exposure, SoundSpan
from firmware.parts.part import Follow, Part, Start, changed, planned
from firmware.room_events import SoundRead, SoundTold
from firmware.settings import SETTINGS, Values, setting_named
from firmware.units import RATE

NAME: Final = "level"

FIRST_OFFSET: Final = 100.0
"""Where the calibration begins when it is first turned: about what an ordinary microphone and card need."""
LEAST_OFFSET: Final = 60.0
"""Turned under this, the level is uncalibrated again."""

TELL_EVERY: Final = 60 * RATE
"""Samples between two lines of the log."""
WARN_EVERY: Final = 300 * RATE
"""A warning that stays true is shown again after five minutes."""
CLIPS: Final = 3
"""So many tenths of a second that clip within two seconds are worth a warning; one may be a knock on the stand."""
CLIP_SPAN: Final = 2 * RATE
DOSE_STEPS: Final = (50.0, 100.0, 200.0, 400.0, 800.0)

Outcome = tuple["LevelState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class LevelState:
    """What was heard of the level so far."""

    values: Values
    exposure: Exposure = field(default_factory=Exposure)
    slow_db: float = FLOOR_DB
    hum_hz: float = 0.0
    rides: bool = False
    told_at: int = 0
    warned: tuple[tuple[str, int], ...] = ()
    """Warnings and when each was shown last."""
    clips: tuple[int, ...] = ()
    doses: int = 0
    """Steps of the dose that were told."""

    @property
    def offset(self) -> float | None:
        """What turns dB re full scale into dB(A); None while nobody has set it against a meter."""
        value = self.values.number("level_offset")
        return value if value > 0 else None


def _start(start: Start) -> LevelState:
    return LevelState(start.values.owned(NAME))


def _heard(state: LevelState, event: SoundRead) -> Outcome:
    span = SoundSpan(event.at, event.seconds, event.mean_db, event.fast_db, event.slow_db)
    state = replace(
        state,
        exposure=state.exposure.add(span, state.offset),
        # Whole decibels: finer ones would draw the screen anew for nothing.
        slow_db=float(round(event.slow_db)),
        hum_hz=event.hum_hz,
        rides=event.rides,
    )
    follow: tuple[Follow, ...] = ()
    if event.hum_hz:
        state, follow = _warn(state, event.at, "hum", (("hz", f"{event.hum_hz:g}"),))
    if event.rides:
        state, more = _warn(state, event.at, "gain-rides")
        follow += more
    state, more = _dosed(state, event.at)
    follow += more
    if event.at - state.told_at >= TELL_EVERY:
        state, more = _tell(state, event)
        follow += more
    return state, follow


def _warn(state: LevelState, at: int, message: str, values: tuple[tuple[str, str], ...] = ()) -> Outcome:
    """Show a warning unless it was shown in the last minutes."""
    shown = dict(state.warned)
    if message in shown and at - shown[message] < WARN_EVERY:
        return state, ()
    return replace(state, warned=tuple((shown | {message: at}).items())), (Noticed(at, message, values),)


def _dosed(state: LevelState, at: int) -> Outcome:
    passed = sum(state.exposure.dose >= step for step in DOSE_STEPS)
    if passed <= state.doses:
        return state, ()
    return replace(state, doses=passed), (Noticed(at, "dose", (("dose", f"{state.exposure.dose:.0f}"),)),)


def _clipped(state: LevelState, event: LevelRead) -> Outcome:
    if not event.clipped:
        return state, ()
    clips = (*(at for at in state.clips if event.at - at < CLIP_SPAN), event.at)
    if len(clips) < CLIPS:
        return replace(state, clips=clips), ()
    return _warn(replace(state, clips=()), event.at, "clipping")


def _tell(state: LevelState, event: Event) -> Outcome:
    total, offset = state.exposure, state.offset
    if not total.seconds:
        return state, ()
    told = SoundTold(
        event.at,
        seconds=total.seconds,
        mean_db=total.mean_db + (offset or 0.0),
        loudest_db=total.loudest_db + (offset or 0.0),
        calibrated=offset is not None,
        dose=total.dose,
        counted_s=total.counted_seconds,
    )
    return replace(state, told_at=event.at), (told,)


def _adjust(state: LevelState, event: Adjusted) -> Outcome:
    """Turn until the level shown is the meter's; the first turn leaves "uncalibrated", to about the right place."""
    row = setting_named("level_offset")
    now = state.offset
    value = float(row.turned(now, event.steps)) if now is not None else FIRST_OFFSET
    value = value if value >= LEAST_OFFSET else 0.0
    values, follow = changed(state.values, event.at, "level_offset", value)
    return replace(state, values=values), follow


def _plan(state: LevelState, event: PlanStepped) -> Outcome:
    values, follow = planned(state.values, event)
    return replace(state, values=values), follow


def _show(state: LevelState, _at: int) -> dict[str, Any]:
    offset = state.offset
    return {
        "sound_db": state.slow_db + (offset or 0.0),
        "calibrated": offset is not None,
        "dose": float(round(state.exposure.dose)),
        "hum_hz": state.hum_hz,
        "rides": state.rides,
    }


LEVEL = Part(
    name=NAME,
    start=_start,
    handlers={
        SoundRead: _heard,
        LevelRead: _clipped,
        Adjusted: _adjust,
        PlanStepped: _plan,
        PowerDown: _tell,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    show=_show,
)
