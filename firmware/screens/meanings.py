"""What each gesture means: one row for each. A gesture that is not in the table means nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from firmware.events import Adjusted, Event, Wish, Wished
from firmware.screens.gestures import Control, Gesture, Kind


@dataclass(frozen=True, slots=True)
class Meaning:
    """One row: what a gesture asks for (a wish) or which field it turns, and the words for it.

    The knob's own gestures have neither: they move the cursor (see `firmware.screens.cursor`).
    """

    control: Control
    kind: Kind
    words: str
    wish: Wish | None = None
    field: str = ""


GESTURES: Final[tuple[Meaning, ...]] = (
    Meaning(Control.DRONE, Kind.TAP, "drone on or off", Wish.DRONE_TOGGLE),
    Meaning(Control.DRONE, Kind.HOLD, "drone fades out over 3 s", Wish.DRONE_FADE),
    Meaning(Control.DRONE, Kind.AMOUNT, "level of the drone", field="drone_level"),
    Meaning(Control.DRONE, Kind.NOTE, "that note is the tonic; its third over it says the mode"),
    Meaning(Control.COMPARE, Kind.DOWN, "the other tuning sounds", Wish.COMPARE_START),
    Meaning(Control.COMPARE, Kind.UP, "back to the tuning that is set", Wish.COMPARE_END),
    Meaning(Control.COMPARE, Kind.AMOUNT, "which tuning to compare with", field="compare_with"),
    Meaning(Control.PULSE, Kind.TAP, "click on or off", Wish.PULSE_TOGGLE),
    Meaning(Control.PULSE, Kind.HOLD, "the next taps set the tempo, until 3 s pass without one"),
    Meaning(Control.PULSE, Kind.TEMPO_TAP, "one tap of the tempo", Wish.PULSE_TAP),
    Meaning(Control.PULSE, Kind.AMOUNT, "tempo", field="tempo"),
    Meaning(Control.EAR, Kind.TAP, "the ear goes on to what it does next", Wish.EAR_NEXT),
    Meaning(Control.EAR, Kind.HOLD, "catch the tonic from the room", Wish.EAR_CATCH),
    Meaning(Control.EAR, Kind.AMOUNT, "how close counts as in tune", field="tolerance"),
    Meaning(Control.TAKE, Kind.TAP, "start or stop a take", Wish.TAKE_TOGGLE),
    Meaning(Control.TAKE, Kind.HOLD, "drop a marker", Wish.MARKER_DROP),
    Meaning(Control.TAKE, Kind.AMOUNT, "gain of the microphone", field="mic_gain"),
    Meaning(Control.REPLAY, Kind.TAP, "replay of the chosen take on or off", Wish.REPLAY_TOGGLE),
    Meaning(Control.REPLAY, Kind.HOLD, "open the list of takes", Wish.TAKES_OPEN),
    Meaning(Control.REPLAY, Kind.AMOUNT, "place in the take", field="replay_place"),
    Meaning(Control.KNOB, Kind.TURN, "change what the cursor is on"),
    Meaning(Control.KNOB, Kind.PUSH, "next field of the page"),
    Meaning(Control.KNOB, Kind.PUSH_TURN, "next or previous page"),
    Meaning(Control.RIGHT_PEDAL, Kind.PRESS, "next step of the plan", Wish.PLAN_NEXT),
    Meaning(Control.LEFT_PEDAL, Kind.PRESS, "drone on or off", Wish.DRONE_TOGGLE),
)

DRILL_GESTURES: Final[tuple[Meaning, ...]] = (
    Meaning(Control.KNOB, Kind.TURN, "slide the degree, or make the third louder or softer", field="drill_slide"),
    Meaning(Control.KNOB, Kind.PUSH, "now it rests; then, on to the next", Wish.DRILL_NOW),
    Meaning(Control.DRONE, Kind.TAP, "it is just; where that is not asked, as the push", Wish.DRILL_JUST),
    Meaning(Control.DRONE, Kind.HOLD, "the same, by a slow finger", Wish.DRILL_JUST),
    Meaning(Control.COMPARE, Kind.DOWN, "it is equal; where that is not asked, as the push", Wish.DRILL_EQUAL),
    Meaning(Control.COMPARE, Kind.UP, "nothing"),
    Meaning(Control.LEFT_PEDAL, Kind.PRESS, "as Drone", Wish.DRILL_JUST),
    Meaning(Control.RIGHT_PEDAL, Kind.PRESS, "as Compare", Wish.DRILL_EQUAL),
    Meaning(Control.DRONE, Kind.AMOUNT, "level of what sounds", field="drone_level"),
    Meaning(Control.TAKE, Kind.TAP, "start or stop a take", Wish.TAKE_TOGGLE),
    Meaning(Control.TAKE, Kind.HOLD, "drop a marker", Wish.MARKER_DROP),
    Meaning(Control.TAKE, Kind.AMOUNT, "gain of the microphone", field="mic_gain"),
)
"""What a gesture means while a drill is under way. Any other ends the drill, and then means what it always does."""

DRILL_MEANINGS: Final[dict[tuple[Control, Kind], Meaning]] = {(row.control, row.kind): row for row in DRILL_GESTURES}

MEANINGS: Final[dict[tuple[Control, Kind], Meaning]] = {(row.control, row.kind): row for row in GESTURES}


def events_of(gesture: Gesture) -> tuple[Event, ...]:
    """What a gesture asks of the box; nothing for the knob's own gestures, which are the cursor's."""
    return asked(MEANINGS.get((gesture.control, gesture.kind)), gesture)


def drill_events_of(gesture: Gesture) -> tuple[Event, ...] | None:
    """What a gesture asks of the box while a drill is under way; None for one that ends the drill."""
    meaning = DRILL_MEANINGS.get((gesture.control, gesture.kind))
    return None if meaning is None else asked(meaning, gesture)


def asked(meaning: Meaning | None, gesture: Gesture) -> tuple[Event, ...]:
    """The events of a row; none for a row that there is not."""
    if meaning is None:
        return ()
    if meaning.wish is not None:
        return (Wished(gesture.at, meaning.wish),)
    return (Adjusted(gesture.at, meaning.field, gesture.amount),) if meaning.field else ()
