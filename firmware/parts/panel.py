"""The panel: turns what fingers and feet do into wishes, keeps the cursor, and shows lines that pass."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from firmware.drill_events import DrillBegan, DrillEnded
from firmware.events import (
    Adjusted,
    Event,
    Fault,
    KeyDown,
    KeyUp,
    KnobDown,
    KnobTurn,
    KnobUp,
    Noticed,
    PedalDown,
    SettingChanged,
    SwitchedOn,
    Tick,
    Wish,
    Wished,
)
from firmware.heard_events import LevelRead
from firmware.keyboard_events import NoteOn
from firmware.messages import line_of
from firmware.music.words import Words, words_of
from firmware.parts.part import Follow, Part, Start, turned
from firmware.screens import cursor, gestures, meanings
from firmware.settings import SETTINGS, Values
from firmware.take_events import StickChanged
from firmware.units import RATE

NAME: Final = "panel"
MESSAGE_LASTS: Final = 3 * RATE
CLIP_LASTS: Final = 2 * RATE

SAID: Final[Mapping[str, Callable[[Words, str], str]]] = {"tonic": Words.name, "other": Words.key}
"""Gaps of messages that hold names of notes, and how the room says them."""

Outcome = tuple["PanelState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class PanelState:
    """Fingers, cursor, the line that passes, and the level of the microphone."""

    values: Values
    stick: bool = False
    notices: tuple[str, ...] = ()
    """Lines of the start that were not yet shown for their whole time, the first perhaps just now."""
    telling: bool = False
    """Whether the line that passes is the first of them."""
    gestures: gestures.GestureState = field(default_factory=gestures.GestureState)
    cursor: cursor.CursorState = field(default_factory=cursor.CursorState)
    message: str = ""
    message_ends: int = 0
    peak_db: float = -120.0
    rms_db: float = -120.0
    clip_ends: int = -1
    drilling: bool = False
    """Whether gestures mean what they do in a drill."""


def _start(start: Start) -> PanelState:
    return PanelState(start.values.owned(NAME), stick=start.stick, notices=start.notices)


def _switched_on(state: PanelState, event: SwitchedOn) -> Outcome:
    return state, _next_of_the_start(state, event)


def _next_of_the_start(state: PanelState, event: Event) -> tuple[Follow, ...]:
    """Lines of the start come one after the other; what happens in between, a sound card that comes, goes first."""
    return tuple(Noticed(event.at, notice) for notice in state.notices[:1])


def _touched(state: PanelState, event: Event) -> Outcome:
    fingers, done = gestures.step(state.gestures, event)
    state = replace(state, gestures=fingers)
    follow: tuple[Follow, ...] = ()
    for gesture in done:
        drilled = meanings.drill_events_of(gesture) if state.drilling else None
        if drilled is not None:
            follow += drilled
            continue
        if state.drilling:
            follow += (Wished(event.at, Wish.DRILL_LEAVE),)
        moved, adjusted = cursor.step(state.cursor, gesture)
        state = replace(state, cursor=moved)
        follow += adjusted + meanings.events_of(gesture)
    return state, follow


def _tick(state: PanelState, event: Tick) -> Outcome:
    state, follow = _touched(state, event)
    if not state.drilling:
        moved, _ = cursor.step(state.cursor, event)
        state = replace(state, cursor=moved)
    if state.message and event.at >= state.message_ends:
        left = state.notices[1:] if state.telling else state.notices
        state = replace(state, message="", notices=left, telling=False)
        follow += _next_of_the_start(state, event)
    return state, follow


def _open_takes(state: PanelState, event: Wished) -> Outcome:
    return replace(state, cursor=cursor.open_page(state.cursor, "takes", event.at)), ()


def _drill_began(state: PanelState, event: DrillBegan) -> Outcome:
    """Show the page that gives nothing away."""
    return replace(state, drilling=True, cursor=cursor.open_page(state.cursor, "drill", event.at)), ()


def _drill_ended(state: PanelState, event: DrillEnded) -> Outcome:
    return replace(state, drilling=False, cursor=replace(state.cursor, last_touched=event.at)), ()


def _noticed(state: PanelState, event: Noticed) -> Outcome:
    words = words_of(state.values.entries)
    said = {gap: SAID[gap](words, value) if gap in SAID else value for gap, value in event.values}
    line = line_of(event.message, said)
    telling = event.message in state.notices[:1]
    return replace(state, message=line, message_ends=event.at + MESSAGE_LASTS, telling=telling), ()


def _fault(state: PanelState, event: Fault) -> Outcome:
    return state, (Noticed(event.at, event.message),)


def _stick(state: PanelState, event: StickChanged) -> Outcome:
    # The same event also tells of the room left; only coming and going is worth a line.
    if event.present == state.stick and not event.why:
        return state, ()
    notice = Noticed(event.at, event.why or ("stick-in" if event.present else "stick-out"))
    return replace(state, stick=event.present), (notice,)


def _level(state: PanelState, event: LevelRead) -> Outcome:
    # Whole decibels: finer ones would draw the screen anew for nothing.
    ends = event.at + CLIP_LASTS if event.clipped else state.clip_ends
    return replace(state, peak_db=round(event.peak_db), rms_db=round(event.rms_db), clip_ends=ends), ()


def _adjust(state: PanelState, event: Adjusted) -> Outcome:
    values, follow = turned(state.values, event)
    return replace(state, values=values), follow


def _reading(state: PanelState, event: SettingChanged) -> Outcome:
    if event.name != "reading" or event.value == "concert":
        return state, ()
    return state, (Noticed(event.at, "reading-on"),)


def _show(state: PanelState, at: int) -> dict[str, Any]:
    return {
        "page": state.cursor.page,
        "cursor": state.cursor.field,
        "message": state.message,
        "mic_peak_db": state.peak_db,
        "mic_rms_db": state.rms_db,
        "clipped": at < state.clip_ends,
    }


PANEL = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        KeyDown: _touched,
        KeyUp: _touched,
        KnobTurn: _touched,
        KnobDown: _touched,
        KnobUp: _touched,
        PedalDown: _touched,
        NoteOn: _touched,
        Tick: _tick,
        Wish.TAKES_OPEN: _open_takes,
        DrillBegan: _drill_began,
        DrillEnded: _drill_ended,
        Noticed: _noticed,
        Fault: _fault,
        StickChanged: _stick,
        LevelRead: _level,
        Adjusted: _adjust,
        SettingChanged: _reading,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    show=_show,
)
