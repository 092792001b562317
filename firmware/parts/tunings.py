"""The user's own tunings: those on the stick, and one that is made by the knob, degree by degree, while it sounds.

The box writes only tunings that it named itself (own 1, own 2). One that somebody wrote is copied before it is changed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Final

from firmware.commands import AppendLine, LookAtStick, WriteText
from firmware.errors import OutOfRangeError
from firmware.events import (
    Adjusted,
    Event,
    HarmonyChanged,
    Noticed,
    PowerDown,
    StickListed,
    SwitchedOn,
    Tick,
    TuningsKnown,
)
from firmware.music.harmony import Harmony, intervals_of
from firmware.music.keys import key_of
from firmware.parts.part import Follow, Part, Start
from firmware.plan.tuning_file import OwnTuning, own_from, write_tuning
from firmware.take_events import StickChanged
from firmware.units import CENTS_PER_OCTAVE, RATE

NAME: Final = "tunings"
TONE: Final = "own_tone"
"""Field that chooses the degree."""
CENTS: Final = "own_cents"
"""Field that moves it."""
KEPT_AS: Final = "own_name"
"""Field that begins a tuning of one's own, or goes to another."""
FOLDER: Final = "tunings"
REPORT: Final = "report.txt"
REST: Final = 2 * RATE
"""Samples without a turn before it is saved, as with the settings."""
MOST: Final = 99
THIRD: Final = 4

_BOXES: Final = re.compile(r"own [1-9][0-9]?")

Outcome = tuple["TuningsState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class TuningsState:
    """All own tunings, the degree that the knob moves, and what is not saved yet."""

    own: tuple[OwnTuning, ...] = ()
    harmony: Harmony | None = None
    tone: int = THIRD
    stick: bool = False
    """Whether there is a stick whose tunings are known."""
    saved: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    """Texts of the files on it."""
    unsaved: frozenset[str] = frozenset()
    changed_at: int = 0
    fresh: str = ""
    """Name of one that was begun and not changed yet; it goes when another tuning is chosen."""

    @property
    def current(self) -> OwnTuning | None:
        """The own tuning that sounds."""
        name = "" if self.harmony is None else self.harmony.tuning
        return next((own for own in self.own if own.name == name), None)


def _start(start: Start) -> TuningsState:
    return TuningsState(start.tunings, stick=start.stick, saved=_texts(start.tunings))


def _texts(tunings: Iterable[OwnTuning]) -> Mapping[str, str]:
    return MappingProxyType({own.name: write_tuning(own) for own in tunings})


def _told(state: TuningsState, at: int, chosen: str = "") -> Outcome:
    return state, (TuningsKnown(at, tuple(own.tuning for own in state.own), chosen),)


def _switched_on(state: TuningsState, event: SwitchedOn) -> Outcome:
    return _told(state, event.at) if state.own else (state, ())


def _harmony(state: TuningsState, event: HarmonyChanged) -> Outcome:
    state = replace(state, harmony=event.harmony)
    if not state.fresh or event.harmony.tuning == state.fresh:
        return state, ()
    # Somebody turned on: what was begun and never changed is not worth keeping.
    rest = tuple(own for own in state.own if own.name != state.fresh)
    return _told(replace(state, own=rest, fresh=""), event.at)


def _adjust(state: TuningsState, event: Adjusted) -> Outcome:
    return (state, ()) if state.harmony is None else ADJUSTERS[event.field](state, event, state.harmony)


def _tone(state: TuningsState, event: Adjusted, _harmony: Harmony) -> Outcome:
    return replace(state, tone=(state.tone - 1 + event.steps) % 11 + 1), ()


def _name(state: TuningsState, event: Adjusted, harmony: Harmony) -> Outcome:
    """Go to another tuning of the box's own, or begin one with what sounds."""
    names = sorted((own.name for own in state.own if _BOXES.fullmatch(own.name)), key=lambda name: int(name[4:]))
    if harmony.tuning not in names:
        return _begin(state, event.at, harmony) if event.steps > 0 else _told(state, event.at, (names or [""])[-1])
    place = names.index(harmony.tuning) + event.steps
    if place < len(names):
        return _told(state, event.at, names[max(place, 0)])
    return (state, ()) if state.fresh else _begin(state, event.at, harmony)


def _begin(state: TuningsState, at: int, harmony: Harmony) -> Outcome:
    made = _copy(state, harmony)
    if made is None:
        return state, (Noticed(at, "tunings-many"),)
    return _told(replace(state, own=(*state.own, made), fresh=made.name), at, made.name)


def _copy(state: TuningsState, harmony: Harmony) -> OwnTuning | None:
    """What sounds, under the first free name; None when all are taken."""
    name = _free({own.name for own in state.own})
    if name is None:
        return None
    if state.current is not None:
        return replace(state.current, name=name, title=name)
    scheme = harmony.scheme()
    if scheme.fixed:
        return replace(own_from(scheme, key_of("C"), name, name), fixed=True)
    return own_from(scheme, harmony.tuned_key(), name, name)


def _free(taken: set[str]) -> str | None:
    return next((name for number in range(1, MOST + 1) if (name := f"own {number}") not in taken), None)


def _cents(state: TuningsState, event: Adjusted, harmony: Harmony) -> Outcome:
    """Move the degree by a cent a detent; a tuning that is not the box's own becomes one first."""
    own = state.current
    if own is None or not _BOXES.fullmatch(own.name):
        own = _copy(state, harmony)
    if own is None:
        return state, (Noticed(event.at, "tunings-many"),)
    place = (harmony.key.tonic.semitones + state.tone) % 12 if own.fixed else state.tone
    try:
        moved = own.moved(place, event.steps)
    except OutOfRangeError:
        return state, (Noticed(event.at, "tuning-limit"),)
    rest = tuple(one for one in state.own if one.name != own.name)
    unsaved = state.unsaved | {own.name}
    return _told(replace(state, own=(*rest, moved), unsaved=unsaved, changed_at=event.at, fresh=""), event.at, own.name)


ADJUSTERS: Final[Mapping[str, Callable[[TuningsState, Adjusted, Harmony], Outcome]]] = {
    TONE: _tone,
    CENTS: _cents,
    KEPT_AS: _name,
}


def _stick(state: TuningsState, event: StickChanged) -> Outcome:
    """Ask what is on a stick that was put in; until that is known nothing is saved, so that nothing is written over."""
    if not event.present:
        return replace(state, stick=False, saved=MappingProxyType({})), ()
    return state, () if state.stick else (LookAtStick(),)


def _listed(state: TuningsState, event: StickListed) -> Outcome:
    """Take over the tunings of a stick; one that was made without it goes on under a name that is free there."""
    there = {own.name for own in event.tunings}
    sounding = state.current
    keeps = [own for own in state.own if own.name in (*state.unsaved, state.fresh) or own == sounding]
    own, unsaved, chosen = list(event.tunings), set[str](), ""
    for mine in keeps:
        name: str | None = mine.name
        if name in there and mine not in event.tunings:
            name = _free({one.name for one in (*own, *keeps)}) or mine.name
        if name in there or name is None:
            continue
        own.append(replace(mine, name=name, title=name if mine.title == mine.name else mine.title))
        unsaved |= {name} if mine.name in state.unsaved else set()
        chosen = name if mine == sounding else chosen
    state = replace(
        state, own=tuple(own), unsaved=frozenset(unsaved), saved=_texts(event.tunings), stick=True, changed_at=event.at
    )
    state, follow = _told(state, event.at, chosen)
    lines = tuple(AppendLine(REPORT, line) for line in event.problems)
    return state, (*follow, *lines, *((Noticed(event.at, "tuning-bad"),) if lines else ()))


def _tick(state: TuningsState, event: Tick) -> Outcome:
    return _save(state, event) if event.at - state.changed_at >= REST else (state, ())


def _save(state: TuningsState, event: Event) -> Outcome:
    """Save what changed; what the file was before stays beside it."""
    if not state.stick or not state.unsaved:
        return state, ()
    mine = [own for own in state.own if own.name in state.unsaved]
    writes: tuple[Follow, ...] = ()
    for own in mine:
        path = f"{FOLDER}/{own.name}.toml"
        before = state.saved.get(own.name)
        writes += (WriteText(f"{path}.old", before),) if before is not None else ()
        writes += (WriteText(path, write_tuning(own)), Noticed(event.at, "tuning-kept", (("name", own.name),)))
    saved = MappingProxyType({**state.saved, **_texts(mine)})
    return replace(state, unsaved=frozenset(), saved=saved), writes


def _show(state: TuningsState, _at: int) -> dict[str, Any]:
    if state.harmony is None:
        return {}
    key, (interval,) = state.harmony.key, intervals_of(state.harmony, state.tone)
    name = state.harmony.tuning
    return {
        "own_degree": key.label(state.tone),
        "own_note": key.spell(state.tone).text,
        "own_cents": interval.cents % CENTS_PER_OCTAVE,
        "own_equal": 100.0 * state.tone,
        "own_name": name if _BOXES.fullmatch(name) else "",
    }


TUNINGS = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        HarmonyChanged: _harmony,
        Adjusted: _adjust,
        StickChanged: _stick,
        StickListed: _listed,
        Tick: _tick,
        PowerDown: _save,
    },
    fields=frozenset(ADJUSTERS),
    show=_show,
)
