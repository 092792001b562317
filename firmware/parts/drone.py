"""The drone: which tones sound, on and off, the other tuning while Compare is down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.drill_events import DrillBegan, DrillSounds
from firmware.events import (
    Adjusted,
    ChordMoved,
    HarmonyChanged,
    Noticed,
    PlanOpened,
    PlanStepped,
    PulseChanged,
    SettingChanged,
    SwitchedOn,
    Tick,
    ToneDue,
    TuningsKnown,
    Wish,
    Wished,
)
from firmware.heard_events import KeyCaught
from firmware.music.chords import HeldChord
from firmware.music.harmony import Harmony, Tone, intervals_of, tones_of
from firmware.music.intervals import UNISON
from firmware.music.keys import key_of, with_mode
from firmware.music.keys import turned as turned_key
from firmware.music.modes import mode_named
from firmware.music.tuning import Tuning
from firmware.music.tunings import TUNINGS
from firmware.music.tunings.just import JUST
from firmware.parts.part import Follow, Part, Start, changed, planned, turned
from firmware.screens.view import Rung
from firmware.settings import SETTINGS, Values
from firmware.sound.snapshot import DroneSound, ToneSound
from firmware.units import CENTS_PER_OCTAVE, cents_of, gain_of

NAME: Final = "drone"
BUILT_IN: Final = tuple(tuning.name for tuning in TUNINGS)
TUNED_BY: Final = ("tuning", "compare_with")
"""Settings that name a tuning."""
FADE_SECONDS: Final = 0.08
SLOW_FADE_SECONDS: Final = 3.0

Outcome = tuple["DroneState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class DroneState:
    """The drone's settings and whether it sounds; the harmony and the tones that follow from them."""

    values: Values
    harmony: Harmony
    tones: tuple[Tone, ...]
    """The tones of the moment: those of the other tuning while Compare is down."""
    knob_order: str = "fifths"
    own: tuple[Tuning, ...] = ()
    """The user's own tunings."""
    on: bool = False
    comparing: bool = False
    fade_seconds: float = FADE_SECONDS
    held: HeldChord | None = None
    """The chord of a progression, in the place of the shape."""
    later: ChordMoved | ToneDue | None = None
    """The chord or tone that is due next."""
    drill: tuple[ToneSound, ...] | None = None
    """What a drill sounds in the place of it all."""


def other_tuning(values: Values) -> str:
    """The tuning that Compare lets hear: the chosen comparison, or just when that is what sounds already."""
    other = values.text("compare_with")
    return "just" if other == values.text("tuning") else other


def harmony_of(values: Values, tuning: str, own: tuple[Tuning, ...] = ()) -> Harmony:
    """The harmony as set, in a tuning of the box or one of the user's own; just in the place of one that is unknown."""
    mine = next((one for one in own if one.name == tuning), None)
    return Harmony(
        key=key_of(values.text("tonic"), values.text("mode")),
        tuning=tuning if mine is not None or tuning in BUILT_IN else JUST.name,
        own=mine,
        a4=values.number("a4"),
        shape=values.text("shape"),
        chord_degree=values.whole("chord_degree"),
        octave=values.whole("octave"),
        octaves=values.whole("octaves"),
        third_db=values.number("third_level"),
        slope_db=values.number("slope"),
    )


def _holding(harmony: Harmony, held: HeldChord | None) -> Harmony:
    return harmony if held is None else replace(harmony, held=held, chord_degree=held.root)


def _in_key(harmony: Harmony, held: HeldChord | None) -> Harmony:
    """The chord with every voice as the tuning has it in the key, as Compare lets it be heard."""
    if held is None:
        return harmony
    places = [semitones for semitones, _ in held.voices]
    plain = tuple(zip(places, intervals_of(harmony, *places), strict=True))
    return _holding(harmony, replace(held, voices=plain))


def _worked_out(
    values: Values, held: HeldChord | None, own: tuple[Tuning, ...], *, comparing: bool
) -> tuple[Harmony, tuple[Tone, ...]]:
    harmony = _holding(harmony_of(values, values.text("tuning"), own), held)
    if not comparing:
        return harmony, tones_of(harmony)
    return harmony, tones_of(_in_key(harmony_of(values, other_tuning(values), own), held))


def _with(state: DroneState, at: int, values: Values, follow: tuple[Follow, ...] = ()) -> Outcome:
    """Take over values, and say what they lead to if that is anything new."""
    if values == state.values:
        return state, follow
    harmony, tones = _worked_out(values, state.held, state.own, comparing=state.comparing)
    return _tell(replace(state, values=values, harmony=harmony, tones=tones), at, follow)


def _tell(state: DroneState, at: int, follow: tuple[Follow, ...] = ()) -> Outcome:
    return state, (*follow, HarmonyChanged(at, state.harmony, state.tones, state.on))


def _start(start: Start) -> DroneState:
    values, own = start.values.owned(NAME), tuple(one.tuning for one in start.tunings)
    worked_out = _worked_out(values, None, own, comparing=False)
    return DroneState(values, *worked_out, start.values.text("knob_order"), own, on=start.sounding)


def _switched_on(state: DroneState, event: SwitchedOn) -> Outcome:
    return _tell(state, event.at, _unknown(state, event.at, state.values))


def _unknown(state: DroneState, at: int, values: Values, before: Values | None = None) -> tuple[Follow, ...]:
    """Say which tuning there is not, when it is asked for."""
    names = [values.text(name) for name in TUNED_BY if before is None or values.text(name) != before.text(name)]
    known = (*BUILT_IN, *(own.name for own in state.own))
    return tuple(Noticed(at, "tuning-unknown", (("name", name),)) for name in names if name not in known)


def _tunings(state: DroneState, event: TuningsKnown) -> Outcome:
    """Take over the user's own tunings, and one of them at once if it shall sound."""
    values, follow = changed(state.values, event.at, "tuning", event.chosen or state.values.text("tuning"))
    harmony, tones = _worked_out(values, state.held, event.tunings, comparing=state.comparing)
    same = (harmony, tones) == (state.harmony, state.tones)
    state = replace(state, own=event.tunings, values=values, harmony=harmony, tones=tones)
    return (state, follow) if same else _tell(state, event.at, follow)


def _other_tuning(state: DroneState, event: Adjusted) -> tuple[Values, tuple[Follow, ...]]:
    """Turn through the tunings of the box and then the user's own."""
    names = (*BUILT_IN, *(own.name for own in state.own))
    here = state.values.text(event.field)
    place = names.index(here) + event.steps if here in names else max(event.steps, 1) - 1
    return changed(state.values, event.at, event.field, names[place % len(names)])


def _toggle(state: DroneState, event: Wished) -> Outcome:
    return _tell(replace(state, on=not state.on, fade_seconds=FADE_SECONDS), event.at)


def _fade(state: DroneState, event: Wished) -> Outcome:
    return _tell(replace(state, on=False, fade_seconds=SLOW_FADE_SECONDS), event.at)


def _compare(*, down: bool) -> Callable[[DroneState, Wished], Outcome]:
    def handle(state: DroneState, event: Wished) -> Outcome:
        _, tones = _worked_out(state.values, state.held, state.own, comparing=down)
        return _tell(replace(state, comparing=down, tones=tones), event.at)

    return handle


def _turned(state: DroneState, event: Adjusted) -> tuple[Values, tuple[Follow, ...]]:
    """Turn a field; a mode may bring another spelling of the tonic with it: D♭ major, but C♯ minor."""
    key = state.harmony.key
    if event.field == "tonic":
        key = turned_key(key, event.steps, state.knob_order)
        return changed(state.values, event.at, "tonic", key.tonic.plain)
    if event.field in TUNED_BY:
        return _other_tuning(state, event)
    values, follow = turned(state.values, event)
    if event.field != "mode":
        return values, follow
    key = with_mode(key, mode_named(values.text("mode")))
    values, more = changed(values, event.at, "tonic", key.tonic.plain)
    return values, follow + more


def _adjust(state: DroneState, event: Adjusted) -> Outcome:
    values, follow = _turned(state, event)
    return _with(state, event.at, values, follow)


def _plan(state: DroneState, event: PlanStepped | PlanOpened) -> Outcome:
    values, follow = planned(state.values, event)
    return _with(state, event.at, values, follow + _unknown(state, event.at, values, state.values))


def _caught(state: DroneState, event: KeyCaught) -> Outcome:
    values, follow = changed(state.values, event.at, "tonic", event.key.tonic.plain)
    values, more = changed(values, event.at, "mode", event.key.mode.name)
    return _with(state, event.at, values, follow + more)


def _moved(state: DroneState, event: ChordMoved) -> Outcome:
    """Take over a chord of a progression, or keep it until it is due."""
    if event.due > event.at:
        return replace(state, later=event), ()
    return _hold(replace(state, later=None), event.at, event.chord)


def _hold(state: DroneState, at: int, held: HeldChord | None) -> Outcome:
    if held == state.held:
        return state, ()
    harmony, tones = _worked_out(state.values, held, state.own, comparing=state.comparing)
    return _tell(replace(state, held=held, harmony=harmony, tones=tones), at)


def _pulse(state: DroneState, event: PulseChanged) -> Outcome:
    """Forget what was due on a beat that will not come."""
    return replace(state, later=None if event.program is None else state.later), ()


def _tone(state: DroneState, event: ToneDue) -> Outcome:
    """Sound a long tone or rest from it, or keep that until it is due."""
    if event.due > event.at:
        return replace(state, later=event), ()
    return _sing(replace(state, later=None), event.at, event.tonic)


def _sing(state: DroneState, at: int, tonic: str) -> Outcome:
    state = replace(state, on=bool(tonic), fade_seconds=FADE_SECONDS)
    if not tonic:
        return _tell(state, at)
    values, follow = changed(state.values, at, "tonic", tonic)
    harmony, tones = _worked_out(values, state.held, state.own, comparing=state.comparing)
    return _tell(replace(state, values=values, harmony=harmony, tones=tones), at, follow)


def _tick(state: DroneState, event: Tick) -> Outcome:
    later = state.later
    if later is None or event.at < later.due:
        return state, ()
    state = replace(state, later=None)
    return _hold(state, event.at, later.chord) if isinstance(later, ChordMoved) else _sing(state, event.at, later.tonic)


def _drill_began(state: DroneState, event: DrillBegan) -> Outcome:
    """Let go of Compare: during a drill its key is an answer, so its coming up would not be heard of."""
    if not state.comparing:
        return state, ()
    _, tones = _worked_out(state.values, state.held, state.own, comparing=False)
    return _tell(replace(state, comparing=False, tones=tones), event.at)


def _drill_sounds(state: DroneState, event: DrillSounds) -> Outcome:
    tones = None if event.tones is None else tuple(ToneSound(hz, level) for hz, level in event.tones)
    return replace(state, drill=tones, fade_seconds=FADE_SECONDS), ()


def _order(state: DroneState, event: SettingChanged) -> Outcome:
    return (replace(state, knob_order=str(event.value)), ()) if event.name == "knob_order" else (state, ())


def _sound(state: DroneState) -> dict[str, Any]:
    sound = DroneSound(
        on=state.on,
        tones=_sounds(state.tones),
        timbre=state.values.text("timbre"),
        level_db=state.values.number("drone_level"),
        fade_seconds=state.fade_seconds,
    )
    if state.drill is not None:
        return {"drone": replace(sound, on=bool(state.drill), tones=state.drill)}
    if state.later is None:
        return {"drone": sound}
    return {"drone": replace(sound, then=_then(state, state.later, sound), due=state.later.due)}


def _then(state: DroneState, later: ChordMoved | ToneDue, sound: DroneSound) -> DroneSound:
    """What the drone becomes when what is due has come."""
    held, values, on = state.held, state.values, sound.on
    if isinstance(later, ChordMoved):
        held = later.chord
    else:
        on = bool(later.tonic)
        values = values.put("tonic", later.tonic) if on else values
    _, tones = _worked_out(values, held, state.own, comparing=state.comparing)
    return replace(sound, on=on, tones=_sounds(tones))


def _sounds(tones: tuple[Tone, ...]) -> tuple[ToneSound, ...]:
    return tuple(ToneSound(tone.hz, tone.level_db) for tone in tones)


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


def _show(state: DroneState, _at: int) -> dict[str, Any]:
    harmony, tones = state.harmony, state.tones
    other = harmony_of(state.values, other_tuning(state.values), state.own).scheme()
    compared = other.title if state.comparing else ""
    return {
        "tonic": harmony.key.tonic.text,
        "mode": harmony.key.mode.title,
        "drone_on": state.on,
        "comparing": compared,
        "moving": state.held.name if state.held else "",
        "drift": state.held.drift if state.held else 0.0,
        "chord": tuple(tone.note.text for tone in tones),
        "rungs": rungs_of(tones, harmony.hz_of(harmony.octave, UNISON), sounding=state.on),
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
        PlanOpened: _plan,
        PlanStepped: _plan,
        KeyCaught: _caught,
        ChordMoved: _moved,
        ToneDue: _tone,
        PulseChanged: _pulse,
        TuningsKnown: _tunings,
        DrillBegan: _drill_began,
        DrillSounds: _drill_sounds,
        Tick: _tick,
        SettingChanged: _order,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    sound=_sound,
    show=_show,
)
