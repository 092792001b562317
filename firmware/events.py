"""Everything that can happen to the box, as frozen values. `at` is always the sample count of the one clock."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from firmware.music.chords import HeldChord
from firmware.music.harmony import Harmony, Tone
from firmware.music.program import Program
from firmware.music.tuning import Tuning
from firmware.plan.plan import Plan
from firmware.plan.tuning_file import OwnTuning


class PanelKey(StrEnum):
    """The six keys, in panel order."""

    DRONE = "Drone"
    COMPARE = "Compare"
    PULSE = "Pulse"
    EAR = "Ear"
    TAKE = "Take"
    REPLAY = "Replay"


class Pedal(StrEnum):
    """The two pedal jacks."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Event:
    """Base of all events: when it happened, in samples."""

    at: int


# --- from the drivers -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KeyDown(Event):
    """A key went down."""

    key: PanelKey


@dataclass(frozen=True, slots=True)
class KeyUp(Event):
    """A key came up."""

    key: PanelKey


@dataclass(frozen=True, slots=True)
class KnobTurn(Event):
    """The knob was turned; clockwise detents count up."""

    steps: int


@dataclass(frozen=True, slots=True)
class KnobDown(Event):
    """The knob was pushed in."""


@dataclass(frozen=True, slots=True)
class KnobUp(Event):
    """The knob was let go."""


@dataclass(frozen=True, slots=True)
class PedalDown(Event):
    """A pedal went down."""

    pedal: Pedal


@dataclass(frozen=True, slots=True)
class PedalUp(Event):
    """A pedal came up."""

    pedal: Pedal


@dataclass(frozen=True, slots=True)
class Tick(Event):
    """Time passed; about twenty a second."""


@dataclass(frozen=True, slots=True)
class Fault(Event):
    """Something went wrong in a driver; `message` names a line in `firmware.messages`."""

    message: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class SwitchedOn(Event):
    """The first event of all: parts tell each other how they stand."""


@dataclass(frozen=True, slots=True)
class PowerDown(Event):
    """The rehearsal ends: write what is left."""


# --- what a gesture or a plan step asks for ---------------------------------------------------------------------


class Wish(StrEnum):
    """What a gesture means; the panel's table maps gestures to these, the Box's table maps these to parts."""

    DRONE_TOGGLE = "drone-toggle"
    DRONE_FADE = "drone-fade"
    COMPARE_START = "compare-start"
    COMPARE_END = "compare-end"
    PULSE_TOGGLE = "pulse-toggle"
    PULSE_TAP = "pulse-tap"
    EAR_NEXT = "ear-next"
    EAR_CATCH = "ear-catch"
    TAKE_TOGGLE = "take-toggle"
    MARKER_DROP = "marker-drop"
    REPLAY_TOGGLE = "replay-toggle"
    TAKES_OPEN = "takes-open"
    PLAN_NEXT = "plan-next"
    DRILL_NOW = "drill-now"
    DRILL_JUST = "drill-just"
    DRILL_EQUAL = "drill-equal"
    DRILL_LEAVE = "drill-leave"


@dataclass(frozen=True, slots=True)
class Wished(Event):
    """A person asked for something."""

    wish: Wish


@dataclass(frozen=True, slots=True)
class Adjusted(Event):
    """A person turned the knob on a field; steps are detents, up is positive."""

    field: str
    steps: int


# --- what one part tells the others -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class HarmonyChanged(Event):
    """What the drone holds is now this; `sounding` is whether it can be heard."""

    harmony: Harmony
    tones: tuple[Tone, ...]
    sounding: bool


@dataclass(frozen=True, slots=True)
class ChordMoved(Event):
    """A progression has come to this chord, to be heard from sample `due` on, or at once if that is past.

    `last` says that the progression begins again after it, `by_pedal` what moves it. Without a chord the drone has its
    own shape again.
    """

    chord: HeldChord | None
    due: int = 0
    last: bool = True
    by_pedal: bool = True


@dataclass(frozen=True, slots=True)
class ToneDue(Event):
    """From sample `due` on the drone shall sound this tonic, or be silent if it is empty."""

    tonic: str
    due: int = 0


@dataclass(frozen=True, slots=True)
class PulseChanged(Event):
    """The pulse runs by this program from now on, its time 0 on sample `start`; None when it has stopped.

    Every start has its own number `run`; within a run, what has been played stays as it was.
    """

    run: int
    program: Program | None
    start: float


@dataclass(frozen=True, slots=True)
class PlanStepped(Event):
    """The plan moved on; each value is (setting name, new value); `marker` titles a marker in a running take.

    `take` starts a take or stops it, None leaves it; `notes` are for the director; `drill` names one to begin.
    """

    index: int
    title: str
    values: tuple[tuple[str, str | int | float | bool], ...]
    marker: str = ""
    notes: str = ""
    take: bool | None = None
    drill: str = ""


@dataclass(frozen=True, slots=True)
class PlanRead(Event):
    """A plan that was asked for was read; None if nothing of it could be used. `problems` are lines for report.txt."""

    path: str
    plan: Plan | None
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StickListed(Event):
    """What was found on a stick that was put in: paths of plans and scores, own tunings, lines for report.txt."""

    plans: tuple[str, ...] = ()
    tunings: tuple[OwnTuning, ...] = ()
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TuningsKnown(Event):
    """The user's own tunings are these now; `chosen` is the name of one that shall sound, empty for no change."""

    tunings: tuple[Tuning, ...]
    chosen: str = ""


@dataclass(frozen=True, slots=True)
class PlanOpened(Event):
    """A plan was opened and is stepped through from now on; its values hold at once."""

    title: str
    values: tuple[tuple[str, str | int | float | bool], ...]


@dataclass(frozen=True, slots=True)
class SettingChanged(Event):
    """A setting has a new value, to be kept."""

    name: str
    value: str | int | float | bool


@dataclass(frozen=True, slots=True)
class SheetDue(Event):
    """The sheet shall be written now that all that happened before is known."""


@dataclass(frozen=True, slots=True)
class Noticed(Event):
    """A line for the screen; `message` names it in `firmware.messages`, `values` fill its gaps."""

    message: str
    values: tuple[tuple[str, str], ...] = ()
