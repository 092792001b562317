"""Everything that can happen to the box, as frozen values. `at` is always the sample count of the one clock."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from firmware.music.harmony import Harmony, Tone
from firmware.music.keys import Key
from firmware.music.program import Program


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
class Heard(Event):
    """One reading of the ear; `at` is the centre of its window.

    hz is None when there is nothing to read, and `why` then says which nothing ("silence", "noise", "own sound").
    """

    hz: float | None
    confidence: float
    level_db: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class Onset(Event):
    """A player began a note; `at` is its onset at the microphone, `level_db` the peak of its attack below full scale.

    `late` is by how many samples the box's own sound was heard later than it was played; 0 as long as it is not known.
    """

    level_db: float
    late: int = 0


@dataclass(frozen=True, slots=True)
class PartialsHeard(Event):
    """The strongest partials of whatever the players sound, low to high, each (Hz, dB); empty when there is nothing."""

    partials: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class ChordDegree:
    """One degree of a chord: cents from its target, its level (soft, even, loud), and for how long it was observed.

    When it could not be read, cents is None and `why` says why not ("can't be heard apart", "not heard", ...).
    """

    degree: str
    note: str
    cents: float | None
    level: str
    accepted: bool
    why: str
    seconds: float


@dataclass(frozen=True, slots=True)
class ChordRead(Event):
    """A chord that is being held, as heard so far; `degree` is that of its root in the key.

    No chord is sounding, or none that could be told, when `chord` is empty.
    """

    start: int
    chord: str
    degree: str
    seconds: float
    degrees: tuple[ChordDegree, ...]


@dataclass(frozen=True, slots=True)
class ChordHeld(Event):
    """A chord that was held long enough to judge; `at` is its end, and each degree is the median of its readings."""

    start: int
    chord: str
    degree: str
    seconds: float
    degrees: tuple[ChordDegree, ...]


@dataclass(frozen=True, slots=True)
class LevelRead(Event):
    """Microphone level over the last tenth of a second, in dB below full scale; `clipped` if it touched full scale."""

    peak_db: float
    rms_db: float
    clipped: bool


@dataclass(frozen=True, slots=True)
class StickChanged(Event):
    """The USB stick came, went or changed; `why` names a line in `firmware.messages` when it can't be used."""

    present: bool
    free_bytes: int = 0
    why: str = ""


@dataclass(frozen=True, slots=True)
class TakeSaved(Event):
    """A take is closed and safe on the stick."""

    number: int
    samples: int


@dataclass(frozen=True, slots=True)
class ReplayEnded(Event):
    """The replay reached the end of its take."""


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
class PulseChanged(Event):
    """The pulse runs by this program from now on, its time 0 on sample `start`; None when it has stopped.

    Every start has its own number `run`; within a run, what has been played stays as it was.
    """

    run: int
    program: Program | None
    start: float


@dataclass(frozen=True, slots=True)
class OnsetPlaced(Event):
    """A note that began at `at` belongs to this beat of this bar, and was so many milliseconds late."""

    bar: int
    beat: str
    late_ms: float


@dataclass(frozen=True, slots=True)
class BarTimed(Event):
    """How the players lay in a bar: of every note its beat and how many milliseconds late it was."""

    bar: int
    median_ms: float
    spread_ms: float
    notes: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class PulseTimed(Event):
    """How the players lay from the first to the last bar that they played to one pulse.

    Drift is how many percent faster than the pulse they went, None if too little was played to say. `beats` is (beat,
    median in ms late, spread in ms); `free` is (first bar, last bar, percent faster) for silent bars.
    """

    start: int
    first_bar: int
    last_bar: int
    count: int
    median_ms: float
    spread_ms: float
    drift_percent: float | None
    beats: tuple[tuple[str, float, float], ...] = ()
    free: tuple[tuple[int, int, float], ...] = ()


@dataclass(frozen=True, slots=True)
class KeyCaught(Event):
    """The ear takes this key from the room, because the director pressed for it: how sure it is, what else it may be.

    A second press soon after takes the second guess.
    """

    key: Key
    confidence: float = 1.0
    second: Key | None = None


@dataclass(frozen=True, slots=True)
class PlanStepped(Event):
    """The plan moved on; each value is (setting name, new value); `marker` titles a marker in a running take."""

    index: int
    title: str
    values: tuple[tuple[str, str | int | float | bool], ...]
    marker: str = ""


@dataclass(frozen=True, slots=True)
class SettingChanged(Event):
    """A setting has a new value, to be kept."""

    name: str
    value: str | int | float | bool


@dataclass(frozen=True, slots=True)
class TakeStarted(Event):
    """A take runs; its first sample is `first`, before `at` by the pre-roll."""

    number: int
    first: int


@dataclass(frozen=True, slots=True)
class TakeStopped(Event):
    """A take was stopped; markers are (seconds into the take, title)."""

    number: int
    seconds: float
    markers: tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class NoteHeld(Event):
    """A note that a player held long enough to judge; `at` is its end.

    Levels in dB, pitch errors in cents against the just (or chosen) target, beats per second against the rung.
    """

    start: int
    degree: str
    concert: str
    written: str
    median_cents: float
    spread_cents: float
    beats: float | None
    settled_after: float | None


@dataclass(frozen=True, slots=True)
class SheetDue(Event):
    """The sheet shall be written now that all that happened before is known."""


@dataclass(frozen=True, slots=True)
class Noticed(Event):
    """A line for the screen; `message` names it in `firmware.messages`, `values` fill its gaps."""

    message: str
    values: tuple[tuple[str, str], ...] = ()
