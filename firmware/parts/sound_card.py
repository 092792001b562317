"""The sound card: the kind that is asked for, else the best by rule; what befalls it goes into report.txt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.commands import AppendLine, ChooseCard
from firmware.events import Adjusted, Fault, SwitchedOn
from firmware.messages import sentence_of
from firmware.parts.part import Follow, Part, Start, turned
from firmware.settings import SETTINGS, Values
from firmware.units import RATE

NAME: Final = "sound_card"
REPORT: Final = "report.txt"

TOLD: Final = frozenset({"no-sound-card", "sound-lost", "sound-back", "sound-late"})
"""Messages about it; the details of late sound count the blocks."""

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


def _fault(state: SoundCardState, event: Fault) -> Outcome:
    if event.message not in TOLD:
        return state, ()
    minutes, seconds = divmod(event.at // RATE, 60)
    line = f"{minutes}:{seconds:02d} {sentence_of(event.message, event.detail)}"
    return state, (AppendLine(REPORT, line),)


SOUND_CARD: Final = Part(
    name=NAME,
    start=_start,
    handlers={SwitchedOn: _switched_on, Adjusted: _adjust, Fault: _fault},
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
)
