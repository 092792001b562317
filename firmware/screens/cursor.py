"""Where the knob works: the page that is shown and the field under the cursor. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.events import Adjusted, Event, Tick
from firmware.screens.fields import TONIC, fields_of
from firmware.screens.gestures import Control, Gesture, Kind
from firmware.screens.pages import PAGES
from firmware.units import RATE

FALL_BACK: Final = 5 * RATE
"""Samples without a touch of the knob after which it works on the tonic again (5 s)."""


@dataclass(frozen=True, slots=True)
class CursorState:
    """Page, field, and the sample count of the last touch of the knob."""

    page: str = "key"
    field: str = TONIC
    last_touched: int = 0


def step(state: CursorState, happening: Gesture | Event) -> tuple[CursorState, tuple[Event, ...]]:
    """Cursor after a gesture of the knob or a tick, and what a turn adjusts; anything else changes nothing."""
    if isinstance(happening, Tick):
        return rested(state, happening.at), ()
    if not isinstance(happening, Gesture) or happening.control is not Control.KNOB:
        return state, ()
    at, steps = happening.at, happening.amount
    state = rested(state, at)
    if happening.kind is Kind.TURN:
        return replace(state, last_touched=at), (Adjusted(at, state.field, steps),)
    if happening.kind is Kind.PUSH:
        return next_field(state, at), ()
    if happening.kind is Kind.PUSH_TURN:
        pages = [page.name for page in PAGES]
        return open_page(state, pages[(pages.index(state.page) + steps) % len(pages)], at), ()
    return state, ()


def rested(state: CursorState, now: int) -> CursorState:
    """The cursor, back on the tonic when the knob has rested for long enough; the page stays."""
    if state.field != TONIC and now - state.last_touched >= FALL_BACK:
        return replace(state, field=TONIC)
    return state


def next_field(state: CursorState, at: int) -> CursorState:
    """The next field of the page, round and round; from the tonic of another page to the first field of this one."""
    fields = fields_of(state.page)
    place = fields.index(state.field) + 1 if state.field in fields else 0
    return replace(state, field=fields[place % len(fields)], last_touched=at)


def open_page(state: CursorState, page: str, at: int) -> CursorState:
    """A page by name, with the cursor on its first field."""
    return replace(state, page=page, field=fields_of(page)[0], last_touched=at)
