"""What fingers and feet do: timed events of keys, knob and pedals in, gestures out. Every rule is a row of a table."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, Pedal, PedalDown
from firmware.keyboard_events import NoteOn
from firmware.units import RATE

HOLD: Final = RATE // 2
"""Samples after which a key that is still down counts as held (0.5 s)."""

TAPS_END: Final = 3 * RATE
"""Samples without a tap after which tapping the tempo is over (3 s)."""


class Control(StrEnum):
    """Everything on the panel that can be touched."""

    DRONE = "Drone"
    COMPARE = "Compare"
    PULSE = "Pulse"
    EAR = "Ear"
    TAKE = "Take"
    REPLAY = "Replay"
    KNOB = "Knob"
    LEFT_PEDAL = "Left pedal"
    RIGHT_PEDAL = "Right pedal"


class Kind(StrEnum):
    """What was done with a control."""

    TAP = "tap"
    HOLD = "hold"
    AMOUNT = "hold and turn"
    NOTE = "hold and note of a keyboard"
    DOWN = "down"
    UP = "up"
    TEMPO_TAP = "tap while the tempo is tapped"
    TURN = "turn"
    PUSH = "push"
    PUSH_TURN = "push and turn"
    PRESS = "press"


@dataclass(frozen=True, slots=True)
class Gesture:
    """Something a person did: sample count, control, kind, and detents turned (0 unless the knob turned)."""

    at: int
    control: Control
    kind: Kind
    amount: int = 0


class Phase(StrEnum):
    """Where one key, or the knob's push, stands."""

    UP = "up"
    DOWN = "down"
    SPENT = "spent"
    """Down, but its release means nothing more."""
    HELD = "held"
    WAITING = "waiting"
    """Up, and the next press is a tap of the tempo."""
    TAPPED = "tapped"


class Stimulus(StrEnum):
    """What can happen to one key, or to the knob's push."""

    PRESS = "pressed"
    RELEASE = "released"
    TURN = "knob turned"
    NOTE = "note of a keyboard pressed"
    LONG = "down for 0.5 s"
    IDLE = "no tap for 3 s"


class Manner(StrEnum):
    """How a control behaves."""

    KEY = "key"
    GIVING = "key that also takes a note of a keyboard"
    MOMENT = "key that acts while it is down"
    TAPPING = "key that also takes the tempo"
    PUSH = "push of the knob"


MANNERS: Final[dict[Control, Manner]] = {
    Control.DRONE: Manner.GIVING,
    Control.COMPARE: Manner.MOMENT,
    Control.PULSE: Manner.TAPPING,
    Control.EAR: Manner.KEY,
    Control.TAKE: Manner.KEY,
    Control.REPLAY: Manner.KEY,
    Control.KNOB: Manner.PUSH,
}


@dataclass(frozen=True, slots=True)
class Row:
    """One rule: in this phase, on this stimulus, go to `then` and report `kind` if it is not None."""

    phase: Phase
    stimulus: Stimulus
    then: Phase
    kind: Kind | None = None


KEY_ROWS: Final = (
    Row(Phase.UP, Stimulus.PRESS, Phase.DOWN),
    Row(Phase.DOWN, Stimulus.RELEASE, Phase.UP, Kind.TAP),
    Row(Phase.DOWN, Stimulus.LONG, Phase.HELD, Kind.HOLD),
    Row(Phase.DOWN, Stimulus.TURN, Phase.SPENT, Kind.AMOUNT),
    Row(Phase.HELD, Stimulus.TURN, Phase.SPENT, Kind.AMOUNT),
    Row(Phase.HELD, Stimulus.RELEASE, Phase.UP),
    Row(Phase.SPENT, Stimulus.TURN, Phase.SPENT, Kind.AMOUNT),
    Row(Phase.SPENT, Stimulus.RELEASE, Phase.UP),
)

NOTE_ROWS: Final = tuple(
    Row(phase, Stimulus.NOTE, Phase.SPENT, Kind.NOTE) for phase in (Phase.DOWN, Phase.HELD, Phase.SPENT)
)

TRANSITIONS: Final[dict[Manner, tuple[Row, ...]]] = {
    Manner.KEY: KEY_ROWS,
    Manner.GIVING: (*KEY_ROWS, *NOTE_ROWS),
    Manner.MOMENT: (
        Row(Phase.UP, Stimulus.PRESS, Phase.DOWN, Kind.DOWN),
        Row(Phase.DOWN, Stimulus.TURN, Phase.DOWN, Kind.AMOUNT),
        Row(Phase.DOWN, Stimulus.RELEASE, Phase.UP, Kind.UP),
    ),
    Manner.TAPPING: (
        *(row for row in KEY_ROWS if (row.phase, row.stimulus) != (Phase.HELD, Stimulus.RELEASE)),
        Row(Phase.HELD, Stimulus.RELEASE, Phase.WAITING),
        Row(Phase.WAITING, Stimulus.PRESS, Phase.TAPPED, Kind.TEMPO_TAP),
        Row(Phase.WAITING, Stimulus.IDLE, Phase.UP),
        Row(Phase.TAPPED, Stimulus.RELEASE, Phase.WAITING),
        Row(Phase.TAPPED, Stimulus.TURN, Phase.SPENT, Kind.AMOUNT),
        Row(Phase.TAPPED, Stimulus.IDLE, Phase.SPENT),
    ),
    Manner.PUSH: (
        Row(Phase.UP, Stimulus.PRESS, Phase.DOWN),
        Row(Phase.DOWN, Stimulus.RELEASE, Phase.UP, Kind.PUSH),
        Row(Phase.DOWN, Stimulus.TURN, Phase.SPENT, Kind.PUSH_TURN),
        Row(Phase.SPENT, Stimulus.TURN, Phase.SPENT, Kind.PUSH_TURN),
        Row(Phase.SPENT, Stimulus.RELEASE, Phase.UP),
    ),
}

RULES: Final[dict[tuple[Manner, Phase, Stimulus], Row]] = {
    (manner, row.phase, row.stimulus): row for manner, rows in TRANSITIONS.items() for row in rows
}

TURNABLE: Final = (Phase.DOWN, Phase.HELD, Phase.SPENT, Phase.TAPPED)
"""Phases in which a finger is on the control, so that the knob may set its amount."""


@dataclass(frozen=True, slots=True)
class Touch:
    """A control that is not at rest; `since` is the sample count from which its hold or its wait is measured."""

    control: Control
    phase: Phase
    since: int


@dataclass(frozen=True, slots=True)
class GestureState:
    """Controls that are not at rest, the latest pressed last."""

    touches: tuple[Touch, ...] = ()

    @property
    def tapping(self) -> bool:
        """Whether the next taps of Pulse set the tempo."""
        return any(touch.phase in {Phase.WAITING, Phase.TAPPED} for touch in self.touches)


Stepped = tuple[GestureState, tuple[Gesture, ...]]


def step(state: GestureState, event: Event) -> Stepped:
    """State after an event, and what it completed; an event that is not the panel's only lets time pass."""
    state, ripe = let_time_pass(state, event.at)
    match event:
        case KeyDown(at, key):
            state, done = stimulate(state, Control(key.value), Stimulus.PRESS, at)
        case KeyUp(at, key):
            state, done = stimulate(state, Control(key.value), Stimulus.RELEASE, at)
        case KnobDown(at):
            state, done = stimulate(state, Control.KNOB, Stimulus.PRESS, at)
        case KnobUp(at):
            state, done = stimulate(state, Control.KNOB, Stimulus.RELEASE, at)
        case KnobTurn(at, steps) if steps:
            state, done = turn(state, at, steps)
        case NoteOn(at):
            state, done = stimulate(state, Control.DRONE, Stimulus.NOTE, at)
        case PedalDown(at, pedal):
            control = Control.LEFT_PEDAL if pedal is Pedal.LEFT else Control.RIGHT_PEDAL
            done = (Gesture(at, control, Kind.PRESS),)
        case _:
            done = ()
    return state, ripe + done


def let_time_pass(state: GestureState, now: int) -> Stepped:
    """Holds that are reached and waits that are over."""
    done: tuple[Gesture, ...] = ()
    for touch in state.touches:
        passed = now - touch.since
        for stimulus, limit in ((Stimulus.LONG, HOLD), (Stimulus.IDLE, TAPS_END)):
            if passed >= limit:
                state, new = stimulate(state, touch.control, stimulus, now)
                done += new
    return state, done


def turn(state: GestureState, at: int, steps: int) -> Stepped:
    """A turn belongs to the control pressed last among those still down, else to the field under the cursor."""
    for touch in reversed(state.touches):
        if touch.phase in TURNABLE:
            return stimulate(state, touch.control, Stimulus.TURN, at, steps)
    return state, (Gesture(at, Control.KNOB, Kind.TURN, steps),)


def stimulate(state: GestureState, control: Control, stimulus: Stimulus, at: int, steps: int = 0) -> Stepped:
    """Apply the one row that fits; no row means that nothing happens."""
    old = next((touch for touch in state.touches if touch.control is control), Touch(control, Phase.UP, at))
    row = RULES.get((MANNERS[control], old.phase, stimulus))
    if row is None:
        return state, ()
    done = () if row.kind is None else (Gesture(at, control, row.kind, steps),)
    return replace(state, touches=placed(state.touches, moved(old, row, at))), done


def moved(old: Touch, row: Row, at: int) -> Touch:
    """The touch after a row; its clock restarts with a press, and when the wait for taps begins."""
    restart = row.stimulus is Stimulus.PRESS or (old.phase is Phase.HELD and row.then is Phase.WAITING)
    return Touch(old.control, row.then, at if restart else old.since)


def placed(touches: tuple[Touch, ...], new: Touch) -> tuple[Touch, ...]:
    """Touches with one replaced: gone when at rest, last when it was pressed just now, else where it stood."""
    others = tuple(touch for touch in touches if touch.control is not new.control)
    if new.phase is Phase.UP:
        return others
    stood = next((touch for touch in touches if touch.control is new.control), None)
    if stood is None or stood.phase is Phase.WAITING:
        return (*others, new)
    return tuple(new if touch is stood else touch for touch in touches)
