"""What the ear and its companions tell, as frozen values: notes, chords, onsets, levels. `at` is a sample count."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.events import Event
from firmware.music.keys import Key
from firmware.music.notes import Note


@dataclass(frozen=True, slots=True)
class Heard(Event):
    """One reading of the ear; `at` is the centre of its window.

    hz is None when there is nothing to read, and `why` then says which nothing ("silence", "noise", "own sound").
    `spread` is None for one player; for several on one note it is how far they lie apart (standard deviation in cents),
    and hz is their centre.
    """

    hz: float | None
    confidence: float
    level_db: float
    why: str = ""
    spread: float | None = None


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
class AnswerSwitched(Event):
    """From now on the box answers the players, or no longer."""

    on: bool


@dataclass(frozen=True, slots=True)
class Answering(Event):
    """The box answers this degree with its target now; none when there is no note."""

    degree: str = ""
    note: Note | None = None


@dataclass(frozen=True, slots=True)
class AnswerGiven(Event):
    """An answer ended at `at`: the degree and concert note that were played, their in-tune Hz, and why it ended."""

    start: int
    degree: str
    concert: str
    hz: float
    octave: str
    why: str


@dataclass(frozen=True, slots=True)
class NoteHeld(Event):
    """A note that a player held long enough to judge; `at` is its end.

    Levels in dB, pitch errors in cents against the just (or chosen) target, beats per second against the rung. Spread
    is how far its pitch went about its median, vibrato and all, or how far several players lay apart; steadiness how
    far it went more slowly than a vibrato. `players` is "one" or "several".
    """

    start: int
    degree: str
    concert: str
    written: str
    median_cents: float
    spread_cents: float
    beats: float | None
    settled_after: float | None
    steadiness_cents: float | None = None
    players: str = "one"
