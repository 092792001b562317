"""All that the sheet tells of a rehearsal, as frozen values. Times are seconds since the rehearsal began."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.heard_events import NoteHeld
from firmware.units import RATE


@dataclass(frozen=True, slots=True)
class KeySpan:
    """A key from `start_s` on, until the next one; `sounding` is whether the drone could be heard."""

    start_s: float
    key: str
    tuning: str = "just"
    sounding: bool = True


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


@dataclass(frozen=True, slots=True)
class TakeNote:
    """A take: number, file beside the sheet, when it begins, length, and its markers as (seconds into it, title)."""

    number: int
    file: str
    start_s: float
    seconds: float
    markers: tuple[tuple[float, str], ...] = ()


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
class Rehearsal:
    """A whole rehearsal. `date` is None when the box has no clock; `tolerance` is what counts as in tune, in cents."""

    number: int
    title: str = ""
    date: str | None = None
    seconds: float = 0.0
    keys: tuple[KeySpan, ...] = ()
    notes: tuple[HeldNote, ...] = ()
    takes: tuple[TakeNote, ...] = ()
    timings: tuple[TimedPulse, ...] = ()
    settings: tuple[tuple[str, str], ...] = ()
    tolerance: float = 5.0
    reading: str = ""
    """Whose written pitch was shown, e.g. "clarinet in B♭"; empty for concert pitch."""
    level: SoundLevel | None = None


def held_note(event: NoteHeld, key: str = "", rate: int = RATE) -> HeldNote:
    """What the ear judged, in seconds instead of samples, with the key it was heard in."""
    return HeldNote(
        start_s=event.start / rate,
        end_s=event.at / rate,
        degree=event.degree,
        concert=event.concert,
        written=event.written,
        median_cents=event.median_cents,
        spread_cents=event.spread_cents,
        beats=event.beats,
        settled_after_s=event.settled_after,
        key=key,
    )
