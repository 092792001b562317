"""Which sound card is taken: the kind that is asked for, else the best by rule."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.commands import ChooseCard
from firmware.events import Adjusted, SwitchedOn
from firmware.parts.part import Follow, Part, Start, turned
from firmware.settings import SETTINGS, Values

NAME: Final = "sound_card"

Outcome = tuple["SoundCardState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class SoundCardState:
    """The one setting."""

    values: Values

    @property
    def choice(self) -> ChooseCard:
        """The command that it leads to."""
        return ChooseCard(self.values.text("sound_card"))


def _start(start: Start) -> SoundCardState:
    return SoundCardState(start.values.owned(NAME))


def _switched_on(state: SoundCardState, _event: SwitchedOn) -> Outcome:
    return state, (state.choice,)


def _adjust(state: SoundCardState, event: Adjusted) -> Outcome:
    values, follow = turned(state.values, event)
    state = replace(state, values=values)
    return state, (*follow, state.choice)


SOUND_CARD: Final = Part(
    name=NAME,
    start=_start,
    handlers={SwitchedOn: _switched_on, Adjusted: _adjust},
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
)
