"""All that a page may show, as one frozen value. The Box fills it; pages only read it."""

from __future__ import annotations

from dataclasses import dataclass, field

Setting = str | int | float | bool


@dataclass(frozen=True, slots=True)
class Rung:
    """One chord degree on the ladder.

    Height is `cents` above the tonic of the drone's octave (0 to 1200, folded into one octave); `equal_cents` is where
    equal temperament would put it; level 0 to 1.
    """

    degree: str
    note: str
    cents: float
    equal_cents: float
    level: float
    sounding: bool = True


@dataclass(frozen=True, slots=True)
class TrailPoint:
    """One heard pitch: seconds ago, and cents above the tonic folded like the rungs."""

    age: float
    cents: float


@dataclass(frozen=True, slots=True)
class HeardNote:
    """What the ear hears now. `off` is cents from the target of `degree`; beats per second if a rung sounds."""

    note: str
    written: str
    degree: str
    off: float
    beats: float | None
    cents: float
    """Cents above the tonic, folded like the rungs."""
    spread: float | None = None
    """How far several players on the note lie apart (cents); None for one."""


@dataclass(frozen=True, slots=True)
class ChordLine:
    """One degree of the chord that is checked: cents from its target and level 1 to 3, or the word for why not."""

    degree: str
    cents: float | None
    level: int
    why: str = ""


@dataclass(frozen=True, slots=True)
class TakeLine:
    """One take in the list: number, length in seconds, markers."""

    number: int
    seconds: float
    markers: int


@dataclass(frozen=True, slots=True)
class DrillView:
    """A drill under way: for whom, round `place` of `rounds`, and words, large and small.

    Of one that is over the words tell what came of it. While a page shows this, nothing else that is heard is shown.
    """

    running: bool = False
    group: str = ""
    place: int = 0
    rounds: int = 0
    big: str = ""
    small: str = ""
    degree: str = ""
    note: str = ""
    """The degree and the note that are asked for, in English, to be said as `big`; empty where neither may be told."""


@dataclass(frozen=True, slots=True)
class View:
    """The state of the box as a page sees it."""

    page: str = "key"
    cursor: str = "tonic"
    values: dict[str, Setting] = field(default_factory=dict)
    """Current value of every setting by name (see firmware.settings); never changed in place."""
    tonic: str = "B♭"
    mode: str = "major"
    drone_on: bool = False
    comparing: str = ""
    """Title of the tuning that sounds while Compare is down, else empty."""
    chord: tuple[str, ...] = ()
    """Names of the sounding chord members from low to high, e.g. B♭2 D3 F3."""
    moving: str = ""
    """The chord that a progression has come to, as it is written; empty without one."""
    drift: float = 0.0
    """Cents by which it lies above its place in the key."""
    rungs: tuple[Rung, ...] = ()
    trail: tuple[TrailPoint, ...] = ()
    ear: str = "off"
    heard: HeardNote | None = None
    silence: str = ""
    """Why nothing is heard, when the ear is on."""
    answering: str = ""
    """Note that the box answers now, as the section reads it; empty when it sounds none."""
    checked: str = ""
    """Name of the chord that is checked, empty when there is none."""
    checked_degrees: tuple[ChordLine, ...] = ()
    badge: str = ""
    """Short name of the reading transposition, empty for concert pitch."""
    pulse_on: bool = False
    bar: int = 0
    beat: int = 0
    beats: int = 4
    tempo: float = 92.0
    """Beats per minute at this moment."""
    meter: str = "4/4"
    meter_groups: tuple[int, ...] = (4,)
    """Beats in each group of the bar."""
    beat_value: tuple[int, int] = (1, 4)
    """Note value that the tempo counts, as a part of a whole note: (3, 8) is a dotted quarter."""
    phase: float = 0.0
    """How much of the beat is over, 0 to 1."""
    counting: bool = False
    """Whether this bar counts in."""
    silent_bar: bool = False
    waiting: bool = False
    """Whether the pulse waits for the press that starts it."""
    next_bar: str = ""
    """What the next bar brings, empty for nothing new."""
    lateness_ms: float | None = None
    """How late the players were in the last bar, in milliseconds; None when nobody was heard in it."""
    ramp: float | None = None
    """How much of a ramp is over, 0 to 1, while one is under way."""
    ramp_to: float = 0.0
    """Tempo at its end."""
    taking: bool = False
    take_number: int = 0
    take_seconds: float = 0.0
    markers: int = 0
    replaying: int = 0
    """Number of the take that is replayed, 0 for none."""
    replay_seconds: float = 0.0
    replay_speed: int = 100
    """Per cent of the speed of the recording."""
    loop: tuple[str, str] = ("", "")
    """Names of the points between which the chosen take goes round, empty for none."""
    replay_bar: int | None = None
    """Bar of the pulse of that time that is heard in the replay."""
    replay_late_ms: float | None = None
    """How late the players were in it."""
    takes: tuple[TakeLine, ...] = ()
    chosen_take: int = 0
    erase_left: tuple[tuple[str, int], ...] = (("delete_take", 12), ("delete_all", 24))
    """Detents that a turn to the right still takes before takes are deleted."""
    release_left: int = 4
    """Detents that a turn to the right still takes before the stick is let go."""
    stick_released: bool = False
    """Whether the stick was let go and may be pulled."""
    stick: bool = False
    free_minutes: int = 0
    mic_peak_db: float = -120.0
    mic_rms_db: float = -120.0
    clipped: bool = False
    sound_db: float = -120.0
    """Level of the room: dB(A) when `calibrated`, else dB re full scale, A-weighted."""
    calibrated: bool = False
    dose: float = 0.0
    """Per cent of a day's sound dose."""
    hum_hz: float = 0.0
    rides: bool = False
    """Whether the microphone's gain seems to follow the level."""
    checking: bool = False
    check_seconds: int = 0
    """Seconds that the room check still takes."""
    room_echo: float | None = None
    room_removal: int | None = None
    """How far down the box expects to take its own sound, in dB; None before a room check."""
    plan_title: str = ""
    plan_step: int = 0
    plan_steps: int = 0
    plan_name: str = ""
    """Title of the plan, or the name of its file."""
    plan_number: int = 0
    """Number of the chosen plan among the plans on the stick, 0 for none."""
    plans: int = 0
    """Plans and scores on the stick."""
    plan_notes: str = ""
    plan_next: str = ""
    """Title of the next step."""
    plan_left: int | None = None
    """Minutes left of the step, below 0 when they are over; None where none are planned."""
    plan_rest: int | None = None
    """Minutes left of the whole plan."""
    own_degree: str = ""
    """Degree that the knob tunes, its note, its cents above the tonic, and those of equal temperament."""
    own_note: str = ""
    own_cents: float = 0.0
    own_equal: float = 0.0
    own_name: str = ""
    """Name of the tuning that the knob makes; empty for one that the box or somebody else made."""
    drill: DrillView = field(default_factory=DrillView)
    message: str = ""
    """A line that passes over the bottom of any page for a few seconds."""
