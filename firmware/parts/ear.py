"""The ear: what it does, the names of what is heard in the key of the moment, and the notes that are held."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Final

from firmware.commands import Attend, Listen
from firmware.drill_events import DrillBegan, DrillEnded
from firmware.events import Adjusted, HarmonyChanged, PlanStepped, PowerDown, Tick, Wish, Wished
from firmware.heard_events import Answering, AnswerSwitched, Heard
from firmware.hearing.held import HeldState, NamedReading, finish, step
from firmware.music.harmony import Harmony, Tone
from firmware.music.intervals import UNISON
from firmware.music.naming import beats, name_pitch
from firmware.music.notes import Note
from firmware.music.transposition import instrument_named, written
from firmware.parts.part import Follow, Part, Start, planned, turned
from firmware.screens.view import HeardNote, TrailPoint
from firmware.settings import SETTINGS, Values
from firmware.take_events import ReplayStarted, ReplayStopped
from firmware.units import CENTS_PER_OCTAVE, RATE, cents_of

NAME: Final = "ear"
TRAIL_SECONDS: Final = 4
FORGET: Final = RATE // 3
"""Samples after which a reading is no longer what is heard now."""
TOLD_SHAPES: Final = ("fifth", "triad", "seventh")
"""Shapes of a sounding drone that say which chord is checked; under any other the chord is found by ear."""


@dataclass(frozen=True, slots=True)
class EarMode:
    """One thing that the ear can do: whether it listens, follows single notes, reads chords, has notes answered."""

    name: str
    listens: bool = True
    notes: bool = False
    chords: bool = False
    answers: bool = False


MODES: Final = (
    EarMode("off", listens=False),
    EarMode("watch", notes=True),
    EarMode("answer", notes=True, answers=True),
    EarMode("chord check", chords=True),
)
"""What the ear does, in the order of taps of its key."""

DURING_DRILLS: Final = MODES[1]
"""What it does in a drill that needs it, and in the place of answers, which would tell too much."""

Outcome = tuple["EarState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class EarState:
    """What the ear knows: the harmony it judges by, what it hears, and what it heard in the last seconds."""

    values: Values
    mode: EarMode = MODES[0]
    harmony: Harmony | None = None
    tones: tuple[Tone, ...] = ()
    """The tones that sound now, empty while the drone is off."""
    heard: NamedReading | None = None
    silence: str = ""
    trail: tuple[tuple[int, float], ...] = ()
    """Sample counts, and cents above the tonic folded into one octave."""
    held: HeldState = field(default_factory=HeldState)
    answering: Note | None = None
    """The note that the box answers now."""
    replay: bool = False
    """Whether a replay is heard: then notes are shown, but not told a second time."""
    before_drill: EarMode | None = None
    """What it did before the drill that is under way; None without one."""


def _start(start: Start) -> EarState:
    return EarState(start.values.owned(NAME))


def _next(state: EarState, event: Wished) -> Outcome:
    here = state.before_drill or state.mode
    mode = MODES[(MODES.index(here) + 1) % len(MODES)]
    return _go_over(replace(state, before_drill=None), mode, event.at)


def _drill_began(state: EarState, event: DrillBegan) -> Outcome:
    before = state.before_drill or state.mode
    needed = event.listens or before.answers
    return _go_over(replace(state, before_drill=before), DURING_DRILLS if needed else before, event.at)


def _drill_ended(state: EarState, event: DrillEnded) -> Outcome:
    before = state.before_drill
    return (state, ()) if before is None else _go_over(replace(state, before_drill=None), before, event.at)


def _go_over(state: EarState, mode: EarMode, at: int) -> Outcome:
    """Do something else from now on."""
    before = state.mode
    if mode == before:
        return state, ()
    state, follow = _let_go(state)
    state = replace(state, mode=mode, trail=(), silence="")
    if mode.listens != before.listens:
        follow = (*follow, Listen(mode.listens))
    if mode.chords != before.chords:
        follow = (*follow, _attend(state))
    if mode.answers != before.answers:
        follow = (*follow, AnswerSwitched(at, mode.answers))
    return state, follow


def _answering(state: EarState, event: Answering) -> Outcome:
    return replace(state, answering=event.note), ()


def _attend(state: EarState) -> Attend:
    """Ask for chords by the harmony of the moment, or for none."""
    harmony = state.harmony
    if harmony is None or not state.mode.chords:
        return Attend(None)
    return Attend(harmony, told=bool(state.tones) and harmony.shape in TOLD_SHAPES)


def _let_go(state: EarState) -> Outcome:
    held, notes = finish(state.held)
    return replace(state, held=held, heard=None), () if state.replay else notes


def _replayed(state: EarState, event: ReplayStarted) -> Outcome:
    """Go over to the replay if it is to be heard; the note that a player holds ends there."""
    state, notes = _let_go(state)
    return replace(state, replay=event.heard, trail=()), notes


def _replay_over(state: EarState, _event: ReplayStopped) -> Outcome:
    if not state.replay:
        return state, ()
    state, _ = _let_go(state)
    return replace(state, replay=False, trail=()), ()


def _harmony(state: EarState, event: HarmonyChanged) -> Outcome:
    follow: tuple[Follow, ...] = ()
    if event.harmony != state.harmony:
        state, follow = _let_go(state)
    before = _attend(state)
    state = replace(state, harmony=event.harmony, tones=event.tones if event.sounding else ())
    return state, follow if _attend(state) == before else (*follow, _attend(state))


def _heard(state: EarState, event: Heard) -> Outcome:
    if state.harmony is None or not state.mode.notes:
        # While chords are read, "noise" only says that several players sound.
        return replace(state, silence="" if event.why == "noise" else event.why), ()
    tolerance = state.values.number("tolerance")
    if event.hz is None:
        held, notes = step(state.held, event.at, None, tolerance)
        return _faded(replace(state, held=held, silence=event.why), event.at), () if state.replay else notes
    reading = _named(state, event, event.hz, state.harmony)
    held, notes = step(state.held, event.at, reading, tolerance)
    trail = (*state.trail, (event.at, folded(event.hz, state.harmony)))
    return replace(state, heard=reading, held=held, silence="", trail=trail), () if state.replay else notes


def folded(hz: float, harmony: Harmony) -> float:
    """Cents above the tonic, folded into one octave."""
    return cents_of(hz / harmony.hz_of(harmony.octave, UNISON)) % CENTS_PER_OCTAVE


def _named(state: EarState, event: Heard, hz: float, harmony: Harmony) -> NamedReading:
    named = name_pitch(hz, harmony)
    instrument = instrument_named(state.values.text("reading"))
    return NamedReading(
        at=event.at,
        hz=hz,
        confidence=event.confidence,
        degree=named.degree,
        concert=named.note.text,
        written=written(named.note, instrument, harmony.key).text,
        cents=named.cents,
        # The drone's own tones do not sound during a drill.
        beats=None if state.before_drill else beats(hz, state.tones, named.degree),
        spread=event.spread,
    )


def _faded(state: EarState, at: int) -> EarState:
    if state.heard is not None and at - state.heard.at > FORGET:
        return replace(state, heard=None)
    return state


def _tick(state: EarState, event: Tick) -> Outcome:
    oldest = event.at - TRAIL_SECONDS * RATE
    if state.trail and state.trail[0][0] < oldest:
        state = replace(state, trail=tuple(point for point in state.trail if point[0] >= oldest))
    return _faded(state, event.at), ()


def _adjust(state: EarState, event: Adjusted) -> Outcome:
    values, follow = turned(state.values, event)
    return _reread(state, values), follow


def _reread(state: EarState, values: Values) -> EarState:
    """Forget the written name of the note that sounds when the reading changes; the next reading brings it again."""
    if values.text("reading") == state.values.text("reading"):
        return replace(state, values=values)
    return replace(state, values=values, heard=None)


def _plan(state: EarState, event: PlanStepped) -> Outcome:
    values, follow = planned(state.values, event)
    return _reread(state, values), follow


def _power_down(state: EarState, _event: PowerDown) -> Outcome:
    return _let_go(state)


def _show(state: EarState, at: int) -> dict[str, Any]:
    badge = instrument_named(state.values.text("reading")).badge
    shown: dict[str, Any] = {"badge": badge, "ear": state.mode.name, "silence": state.silence}
    if state.harmony is None or not state.mode.notes:
        return shown
    if state.answering is not None:
        instrument = instrument_named(state.values.text("reading"))
        shown["answering"] = written(state.answering, instrument, state.harmony.key).text
    shown["trail"] = tuple(TrailPoint((at - when) / RATE, cents) for when, cents in state.trail)
    if state.heard is not None:
        heard, cents = state.heard, folded(state.heard.hz, state.harmony)
        shown["heard"] = HeardNote(
            heard.concert, heard.written, heard.degree, heard.cents, heard.beats, cents, heard.spread
        )
    return shown


EAR = Part(
    name=NAME,
    start=_start,
    handlers={
        Wish.EAR_NEXT: _next,
        HarmonyChanged: _harmony,
        Heard: _heard,
        Answering: _answering,
        DrillBegan: _drill_began,
        DrillEnded: _drill_ended,
        Tick: _tick,
        Adjusted: _adjust,
        PlanStepped: _plan,
        ReplayStarted: _replayed,
        ReplayStopped: _replay_over,
        PowerDown: _power_down,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    show=_show,
)
