"""The MIDI keyboard: notes in the key's tuning or following the chord, the tonic by a key, the tuning sent on."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Final

from firmware.commands import SendMidi
from firmware.events import (
    Adjusted,
    HarmonyChanged,
    KeyDown,
    KeyUp,
    Noticed,
    PanelKey,
    PlanOpened,
    PlanStepped,
    Wish,
    Wished,
)
from firmware.heard_events import KeyCaught
from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn, SustainChanged
from firmware.music.harmony import Harmony
from firmware.music.keys import Key, usual_tonic
from firmware.music.modes import mode_named
from firmware.music.moving.keyboard import Fingered, fingered, hz_of, tuning_message
from firmware.parts.part import Follow, Part, Start, planned, turned
from firmware.settings import SETTINGS, Values
from firmware.sound.snapshot import DroneSound, ToneSound

NAME: Final = "keyboard"
MOST_NOTES: Final = 24
"""Notes that sound together; the oldest is let go for one more."""

THIRDS: Final = {3: "minor", 4: "major"}
"""Mode by the third that is pressed with the tonic."""

SOFTEST_DB: Final = -18.0
"""Level of the softest touch against the hardest."""

FADE_SECONDS: Final = 0.05

Outcome = tuple["KeyboardState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class KeyboardState:
    """Which notes are down, which the pedal holds, how they are tuned, and the tonic that is being given."""

    values: Values
    timbre: str
    harmony: Harmony | None = None
    sounding: bool = False
    """Whether the drone sounds."""
    down: tuple[tuple[int, int], ...] = ()
    """Notes and velocities, the oldest first."""
    held: tuple[tuple[int, int], ...] = ()
    """Notes that are up again and held by the sustain pedal."""
    sustain: bool = False
    played: Fingered = field(default_factory=Fingered)
    giving: bool = False
    """Whether the Drone key is down, so that notes give the tonic."""
    given: int | None = None
    drone_was_on: bool = False
    sent: bytes = b""

    @property
    def notes(self) -> tuple[tuple[int, int], ...]:
        """All notes that sound."""
        return self.held + self.down


def _start(start: Start) -> KeyboardState:
    return KeyboardState(start.values.owned(NAME), start.values.text("timbre"))


def _harmony(state: KeyboardState, event: HarmonyChanged) -> Outcome:
    state = replace(state, sounding=event.sounding)
    if event.harmony == state.harmony:
        return state, ()
    same = state.harmony is not None and state.harmony.key == event.harmony.key
    return _tuned(replace(state, harmony=event.harmony, played=state.played if same else Fingered()))


def _tuned(state: KeyboardState) -> Outcome:
    """Tune what sounds now, and send the tuning on if it is another."""
    harmony = state.harmony
    if harmony is None:
        return state, ()
    rule = state.values.text("keyboard_follows")
    played = fingered([note for note, _ in state.notes], harmony, rule, state.played)
    state = replace(state, played=played)
    kind = state.values.text("tuning_out")
    if kind == "off":
        return replace(state, sent=b""), ()
    message = tuning_message(harmony, played, single=kind == "notes")
    if message == state.sent:
        return state, ()
    return replace(state, sent=message), (SendMidi(message),)


def _without(notes: tuple[tuple[int, int], ...], note: int) -> tuple[tuple[int, int], ...]:
    return tuple(one for one in notes if one[0] != note)


def _on(state: KeyboardState, event: NoteOn) -> Outcome:
    if state.giving:
        return _give(state, event)
    down = (*_without(state.down, event.note), (event.note, event.velocity))
    held = _without(state.held, event.note)
    spare = len(held) + len(down) - MOST_NOTES
    if spare > 0:
        held, down = held[spare:], down[max(0, spare - len(held)) :]
    return _tuned(replace(state, down=down, held=held))


def _off(state: KeyboardState, event: NoteOff) -> Outcome:
    kept = tuple(one for one in state.down if one[0] == event.note) if state.sustain else ()
    state = replace(state, down=_without(state.down, event.note), held=(*_without(state.held, event.note), *kept))
    return _tuned(state)


def _sustain(state: KeyboardState, event: SustainChanged) -> Outcome:
    return _tuned(replace(state, sustain=event.down, held=state.held if event.down else ()))


def _changed(state: KeyboardState, event: KeyboardChanged) -> Outcome:
    """Let go whatever a keyboard held that has gone, so that nothing hangs; tune an instrument that has come."""
    state, follow = _tuned(replace(state, down=(), held=(), sustain=False, given=None, sent=b""))
    line = Noticed(event.at, "keyboard" if event.present else "no-keyboard", (("name", event.name),))
    return state, (*follow, line)


def _key_down(state: KeyboardState, event: KeyDown) -> Outcome:
    if event.key is not PanelKey.DRONE:
        return state, ()
    return replace(state, giving=True, given=None, drone_was_on=state.sounding), ()


def _key_up(state: KeyboardState, event: KeyUp) -> Outcome:
    return (replace(state, giving=False, given=None), ()) if event.key is PanelKey.DRONE else (state, ())


def _give(state: KeyboardState, event: NoteOn) -> Outcome:
    """Take a note as the tonic, and a third over it as the mode; the drone goes on as it was."""
    if state.harmony is None:
        return state, ()
    mode = state.harmony.key.mode
    tonic = state.given
    third = THIRDS.get((event.note - tonic) % 12) if tonic is not None else None
    if tonic is None or third is None:
        tonic = event.note
    else:
        mode = mode_named(third)
    key = Key(usual_tonic(tonic % 12, mode), mode)
    back = (Wished(event.at, Wish.DRONE_TOGGLE),) if state.drone_was_on and not state.sounding else ()
    return replace(state, given=tonic), (KeyCaught(event.at, key), *back)


def _values(state: KeyboardState, values: Values, follow: tuple[Follow, ...]) -> Outcome:
    if values == state.values:
        return state, follow
    state, more = _tuned(replace(state, values=values, played=Fingered()))
    return state, follow + more


def _adjust(state: KeyboardState, event: Adjusted) -> Outcome:
    return _values(state, *turned(state.values, event))


def _plan(state: KeyboardState, event: PlanStepped | PlanOpened) -> Outcome:
    return _values(state, *planned(state.values, event))


def _sound(state: KeyboardState) -> dict[str, Any]:
    if state.harmony is None or not state.notes:
        return {}
    harmony, played = state.harmony, state.played
    tones = tuple(
        ToneSound(hz_of(note, harmony, played), SOFTEST_DB * (1 - velocity / 127)) for note, velocity in state.notes
    )
    level = state.values.number("keyboard_level")
    return {
        "keyboard": DroneSound(on=True, tones=tones, timbre=state.timbre, level_db=level, fade_seconds=FADE_SECONDS)
    }


KEYBOARD = Part(
    name=NAME,
    start=_start,
    handlers={
        HarmonyChanged: _harmony,
        NoteOn: _on,
        NoteOff: _off,
        SustainChanged: _sustain,
        KeyboardChanged: _changed,
        KeyDown: _key_down,
        KeyUp: _key_up,
        Adjusted: _adjust,
        PlanOpened: _plan,
        PlanStepped: _plan,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    sound=_sound,
)
