"""All that the sheet tells of a rehearsal, as frozen values. Times are seconds since the rehearsal began."""

from __future__ import annotations

from dataclasses import dataclass, field

from firmware.music.languages.english import ENGLISH
from firmware.music.words import Words
from firmware.sheet.past import Past


@dataclass(frozen=True, slots=True)
class KeySpan:
    """A key from `start_s` on, until the next one; `sounding` is whether the drone could be heard."""

    start_s: float
    key: str
    tuning: str = "just"
    sounding: bool = True


@dataclass(frozen=True, slots=True)
class PulseSpan:
    """The pulse from `start_s` on, until the next one: beats per minute, where they go to, meter; 0 when it is off."""

    start_s: float
    tempo: float
    to: float
    meter: str = ""


@dataclass(frozen=True, slots=True)
class PlanSpan:
    """A step of the plan from `start_s` on, until the next one, with the director's notes for it."""

    start_s: float
    title: str
    notes: str = ""


@dataclass(frozen=True, slots=True)
class HeldNote:
    """A note that a player held long enough to judge. Cents are against the target, beats per second against the rung.

    `settled_after_s` is None if it never came to rest within the tolerance.
    """

    start_s: float
    end_s: float
    degree: str
    concert: str
    written: str
    median_cents: float
    spread_cents: float
    beats: float | None = None
    settled_after_s: float | None = None
    key: str = ""
    late_ms: float | None = None
    """Milliseconds that it began after its place in the pulse; None without a pulse."""
    section: str = ""
    """Whose written pitch was shown, e.g. "clarinet in B♭"; empty for concert pitch."""
    steadiness_cents: float | None = None
    players: str = ""
    """Whether "one" player held it or "several"; empty in files that do not tell."""
    figure: str = ""
    """The degree as records have it, where the room calls it otherwise; empty where it does not."""

    @property
    def names(self) -> str:
        """Language of its names: the same for every note, and a column of notes.csv, where B alone would not tell."""
        return ENGLISH.name


@dataclass(frozen=True, slots=True)
class ChordMember:
    """One degree of a checked chord: cents from its target, None if it could not be read; soft, even or loud."""

    degree: str
    note: str
    cents: float | None
    level: str


@dataclass(frozen=True, slots=True)
class ChordCheck:
    """A chord that was held long enough to judge; `degree` is that of its root in the key."""

    start_s: float
    seconds: float
    chord: str
    degree: str
    members: tuple[ChordMember, ...] = ()


@dataclass(frozen=True, slots=True)
class TakePart:
    """One file of a take, beside the sheet, and its length; a long take has several, one after another."""

    file: str
    seconds: float


@dataclass(frozen=True, slots=True)
class TakeNote:
    """A take: number, files, when it begins, length, and its markers as (seconds into it, title).

    Without `parts` its recording is no longer there.
    """

    number: int
    start_s: float
    seconds: float
    markers: tuple[tuple[float, str], ...] = ()
    parts: tuple[TakePart, ...] = ()


@dataclass(frozen=True, slots=True)
class SoundLevel:
    """Level of the rehearsal: energy average and greatest fast level, in dB(A) or, not `calibrated`, dB re full scale.

    `dose` is in per cent of a day's, over the `counted_s` seconds of `seconds` that were calibrated.
    """

    seconds: float
    mean_db: float
    loudest_db: float
    calibrated: bool
    dose: float = 0.0
    counted_s: float = 0.0


@dataclass(frozen=True, slots=True)
class TimedPulse:
    """How the players lay against one pulse, in milliseconds late; drift is how many percent faster they went.

    `beats` is (beat, median, spread), `free` is (first bar, last bar, percent faster) for bars without click.
    """

    start_s: float
    first_bar: int
    last_bar: int
    count: int
    median_ms: float
    spread_ms: float
    drift_percent: float | None
    beats: tuple[tuple[str, float, float], ...] = ()
    free: tuple[tuple[int, int, float], ...] = ()


@dataclass(frozen=True, slots=True)
class DrillAnswer:
    """One round of a drill that a group answered; `kind` says what was asked.

    `off` is in cents from just or dB from the level aimed at, None where nothing was measured; `right` is None where
    there is no right and wrong.
    """

    at_s: float
    drill: str
    group: str
    kind: str
    degree: str
    began: float
    off: float | None
    seconds: float
    beats: float | None = None
    said: str = ""
    right: bool | None = None


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something went wrong in a driver; `code` names a line in `firmware.messages`."""

    at_s: float
    code: str


@dataclass(frozen=True, slots=True)
class Unread:
    """Lines of a file that could not be read; all others were used."""

    file: str
    lines: int


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """A whole rehearsal. `date` is None when the box has no clock; `tolerance` is what counts as in tune, in cents."""

    number: int
    title: str = ""
    date: str | None = None
    seconds: float = 0.0
    keys: tuple[KeySpan, ...] = ()
    pulses: tuple[PulseSpan, ...] = ()
    steps: tuple[PlanSpan, ...] = ()
    notes: tuple[HeldNote, ...] = ()
    answers: tuple[str, ...] = ()
    """Degree of each note that the box answered with its target."""
    chords: tuple[ChordCheck, ...] = ()
    takes: tuple[TakeNote, ...] = ()
    timings: tuple[TimedPulse, ...] = ()
    drills: tuple[DrillAnswer, ...] = ()
    settings: tuple[tuple[str, str], ...] = ()
    tolerance: float = 5.0
    reading: str = ""
    """Whose written pitch was shown last, e.g. "clarinet in B♭"; empty for concert pitch."""
    level: SoundLevel | None = None
    troubles: tuple[Trouble, ...] = ()
    unread: tuple[Unread, ...] = ()
    words: Words = field(default_factory=Words)
    """How the room says notes and degrees; all that is told here is English and in figures."""
    past: tuple[Past, ...] = ()
    """Earlier rehearsals on the stick, the oldest first."""
