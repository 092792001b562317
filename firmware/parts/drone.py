"""The drone: which tones sound, on and off, the other tuning while Compare is down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.events import Adjusted, HarmonyChanged, KeyCaught, PlanStepped, SettingChanged, SwitchedOn, Wish, Wished
from firmware.music.harmony import Harmony, Tone, tones_of
from firmware.music.intervals import UNISON
from firmware.music.keys import Key, key_of, with_mode
from firmware.music.keys import turned as turned_key
from firmware.music.modes import mode_named
from firmware.music.tunings import tuning_named
from firmware.parts.part import Follow, Part, Start, changed, planned, turned
from firmware.screens.view import Rung
from firmware.settings import SETTINGS, Values
from firmware.sound.snapshot import DroneSound, ToneSound
from firmware.units import CENTS_PER_OCTAVE, cents_of, gain_of

NAME: Final = "drone"
FADE_SECONDS: Final = 0.08
SLOW_FADE_SECONDS: Final = 3.0


@dataclass(frozen=True, slots=True)
class DroneState:
    """The drone's settings and whether it sounds."""

    values: Values
    knob_order: str = "fifths"
    on: bool = False
    comparing: bool = False
    fade_seconds: float = FADE_SECONDS


def key_in(state: DroneState) -> Key:
    """The key as set."""
    return key_of(state.values.text("tonic"), state.values.text("mode"))


def other_tuning(state: DroneState) -> str:
    """The tuning that Compare lets hear: the chosen comparison, or just when that is what sounds already."""
    other = state.values.text("compare_with")
    return "just" if other == state.values.text("tuning") else other


def harmony_in(state: DroneState, tuning: str | None = None) -> Harmony:
    """The harmony as set, or the same in another tuning."""
    values = state.values
    return Harmony(
        key=key_in(state),
        tuning=tuning or values.text("tuning"),
        a4=values.number("a4"),
        shape=values.text("shape"),
        chord_degree=values.whole("chord_degree"),
        octave=values.whole("octave"),
        octaves=values.whole("octaves"),
        third_db=values.number("third_level"),
        slope_db=values.number("slope"),
    )


def sounding_tones(state: DroneState) -> tuple[Tone, ...]:
    """The tones of the moment: those of the other tuning while Compare is down."""
    return tones_of(harmony_in(state, other_tuning(state) if state.comparing else None))


def _news(
    before: DroneState, after: DroneState, at: int, follow: tuple[Follow, ...] = ()
) -> tuple[DroneState, tuple[Follow, ...]]:
    if before == after:
        return after, follow
    return after, (*follow, HarmonyChanged(at, harmony_in(after), sounding_tones(after), after.on))


def _start(start: Start) -> DroneState:
    return DroneState(start.values.owned(NAME), start.values.text("knob_order"))


def _switched_on(state: DroneState, event: SwitchedOn) -> tuple[DroneState, tuple[Follow, ...]]:
    return state, (HarmonyChanged(event.at, harmony_in(state), sounding_tones(state), state.on),)


def _toggle(state: DroneState, event: Wished) -> tuple[DroneState, tuple[Follow, ...]]:
    return _news(state, replace(state, on=not state.on, fade_seconds=FADE_SECONDS), event.at)


def _fade(state: DroneState, event: Wished) -> tuple[DroneState, tuple[Follow, ...]]:
    return _news(state, replace(state, on=False, fade_seconds=SLOW_FADE_SECONDS), event.at)


def _compare(*, down: bool) -> Callable[[DroneState, Wished], tuple[DroneState, tuple[Follow, ...]]]:
    def handle(state: DroneState, event: Wished) -> tuple[DroneState, tuple[Follow, ...]]:
        return _news(state, replace(state, comparing=down), event.at)

    return handle


def _turned(state: DroneState, event: Adjusted) -> tuple[Values, tuple[Follow, ...]]:
    """Turn a field; a mode may bring another spelling of the tonic with it: D♭ major, but C♯ minor."""
    if event.field == "tonic":
        key = turned_key(key_in(state), event.steps, state.knob_order)
        return changed(state.values, event.at, "tonic", key.tonic.plain)
    values, follow = turned(state.values, event)
    if event.field != "mode":
        return values, follow
    key = with_mode(key_in(state), mode_named(values.text("mode")))
    values, more = changed(values, event.at, "tonic", key.tonic.plain)
    return values, follow + more


def _adjust(state: DroneState, event: Adjusted) -> tuple[DroneState, tuple[Follow, ...]]:
    values, follow = _turned(state, event)
    return _news(state, replace(state, values=values), event.at, follow)


def _plan(state: DroneState, event: PlanStepped) -> tuple[DroneState, tuple[Follow, ...]]:
    values, follow = planned(state.values, event)
    return _news(state, replace(state, values=values), event.at, follow)


def _caught(state: DroneState, event: KeyCaught) -> tuple[DroneState, tuple[Follow, ...]]:
    values, follow = changed(state.values, event.at, "tonic", event.key.tonic.plain)
    values, more = changed(values, event.at, "mode", event.key.mode.name)
    return _news(state, replace(state, values=values), event.at, follow + more)


def _order(state: DroneState, event: SettingChanged) -> tuple[DroneState, tuple[Follow, ...]]:
    return (replace(state, knob_order=str(event.value)), ()) if event.name == "knob_order" else (state, ())


def _sound(state: DroneState) -> dict[str, Any]:
    return {
        "drone": DroneSound(
            on=state.on,
            tones=tuple(ToneSound(tone.hz, tone.level_db) for tone in sounding_tones(state)),
            timbre=state.values.text("timbre"),
            level_db=state.values.number("drone_level"),
            fade_seconds=state.fade_seconds,
        )
    }


def _rung(tone: Tone, tonic_hz: float, loudest_db: float, *, sounding: bool) -> Rung:
    cents = cents_of(tone.hz / tonic_hz) % CENTS_PER_OCTAVE
    level = gain_of(tone.level_db - loudest_db)
    return Rung(tone.degree, tone.note.name.text, cents, cents - tone.cents_from_equal, level, sounding)


def rungs_of(tones: tuple[Tone, ...], tonic_hz: float, *, sounding: bool) -> tuple[Rung, ...]:
    """One rung for each degree that sounds, octaves folded, from low to high."""
    loudest = max(tone.level_db for tone in tones)
    folded: dict[str, Rung] = {}
    for tone in tones:
        folded.setdefault(tone.degree, _rung(tone, tonic_hz, loudest, sounding=sounding))
    return tuple(sorted(folded.values(), key=lambda rung: rung.cents))


def _tonic_hz(state: DroneState) -> float:
    harmony = harmony_in(state)
    return harmony.hz_of(harmony.octave, UNISON)


def _show(state: DroneState, _at: int) -> dict[str, Any]:
    key, tones = key_in(state), sounding_tones(state)
    compared = tuning_named(other_tuning(state)).title if state.comparing else ""
    return {
        "tonic": key.tonic.text,
        "mode": key.mode.title,
        "drone_on": state.on,
        "comparing": compared,
        "chord": tuple(tone.note.text for tone in tones),
        "rungs": rungs_of(tones, _tonic_hz(state), sounding=state.on),
    }


DRONE = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        Wish.DRONE_TOGGLE: _toggle,
        Wish.DRONE_FADE: _fade,
        Wish.COMPARE_START: _compare(down=True),
        Wish.COMPARE_END: _compare(down=False),
        Adjusted: _adjust,
        PlanStepped: _plan,
        KeyCaught: _caught,
        SettingChanged: _order,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    sound=_sound,
    show=_show,
)
