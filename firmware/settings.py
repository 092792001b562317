"""Every setting of the box as one declared table: owner, default, range, unit, help line."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from firmware.drills import DRILLS
from firmware.errors import BadEntryError, KeelnoteError, OutOfRangeError, UnknownNameError
from firmware.music.answer import OCTAVES
from firmware.music.chords import SHAPES
from firmware.music.degree_names import DEGREE_NAMES
from firmware.music.ensemble import EVERYONE, GROUPS, own_group
from firmware.music.grooves import GROOVES
from firmware.music.keys import ALL_TONICS, key_of
from firmware.music.kit import KITS
from firmware.music.languages import LANGUAGES
from firmware.music.meter import Bars, parse_bars
from firmware.music.modes import MODES
from firmware.music.moves import parse_moves
from firmware.music.moving.choices import CHOICES
from firmware.music.moving.long_tones import PATHS, tonics_of
from firmware.music.moving.progression import steps_of
from firmware.music.program import ACCENTS, CROSSINGS, QUARTER
from firmware.music.transposition import INSTRUMENTS
from firmware.music.tunings import TUNINGS
from firmware.plan.checked_toml import Entry, check
from firmware.sound.timbres import TIMBRES

Value = str | int | float | bool


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: a choice if `choices` is filled, else a number from `low` to `high` in steps of `step`.

    With `reads` a choice may also be any text that it can read; it raises a KeelnoteError for one that it can't.
    """

    name: str
    owner: str
    default: Value
    help: str
    choices: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    step: float = 1.0
    unit: str = ""
    reads: Callable[[str], object] | None = None

    @property
    def allowed(self) -> str:
        """What is accepted, in words."""
        if self.choices:
            return "choose from " + ", ".join(self.choices) + (", or write your own" if self.reads else "")
        return f"{self.low:g} to {self.high:g} {self.unit}".rstrip()

    def accepts(self, value: Value) -> bool:
        """Whether a value may stand here."""
        if self.choices:
            return value in self.choices or (isinstance(value, str) and self.readable(value))
        if isinstance(value, bool) or not isinstance(value, int | float):
            return False
        if isinstance(self.default, int) and value != int(value):
            return False
        return self.low <= value <= self.high

    def readable(self, text: str) -> bool:
        """Whether a text that is no choice may stand here."""
        if self.reads is None or not 0 < len(text) <= LONGEST_TEXT or not text.isprintable():
            return False
        try:
            self.reads(text)
        except KeelnoteError:
            return False
        return True

    def clean(self, value: Value) -> Value:
        """The value in the type of the default; raises OutOfRangeError for one that is not allowed."""
        if not self.accepts(value):
            raise OutOfRangeError(self.name, value, self.allowed)
        return type(self.default)(value)

    def written(self, value: Value) -> str:
        """The value as text, without its unit and without needless decimals."""
        return value if isinstance(value, str) else f"{value:g}".replace("-", "−")

    def turned(self, value: Value, steps: int) -> Value:
        """The value some detents further: choices go round, numbers stop at their ends."""
        if self.choices:
            # A text of one's own stands before the first choice.
            place = self.choices.index(str(value)) + steps if value in self.choices else max(steps, 1) - 1
            return self.choices[place % len(self.choices)]
        moved = round(round(float(value) / self.step + steps) * self.step, 6)
        return type(self.default)(min(max(moved, self.low), self.high))


def _moves(text: str) -> object:
    return parse_moves(text, Bars(), QUARTER, 92.0)


def _progression(text: str) -> object:
    return steps_of(text, key_of("C"))


def _tonics(text: str) -> object:
    return tonics_of(text, key_of("C"))


def _names(registry: Iterable[object]) -> tuple[str, ...]:
    return tuple(str(getattr(entry, "name", entry)) for entry in registry)


METERS = (
    "4/4",
    "2/4",
    "3/4",
    "5/4",
    "6/4",
    "2/2",
    "3/2",
    "3/8",
    "6/8",
    "9/8",
    "12/8",
    "3+2/4",
    "2+3/4",
    "2+3/8",
    "3+2/8",
    "2+2+3/8",
    "3+2+2/8",
    "2+3+2/8",
    "3+3+2/8",
    "3+2+3/8",
    "2+2+2+3/8",
)
"""Meters on the knob; any other can be written in a file."""

PROGRESSIONS = (
    "none",
    "I IV V7 I",
    "I vi ii V",
    "I IV ii V7",
    "I V vi IV",
    "i iv V7 i",
    "I ii6 V7 I",
    "I IV I64 V7 I",
)
"""Progressions on the knob: cadences and turns of common practice; any other can be written in a file."""

LONG_TONES = ("none", *PATHS)

LONGEST_TEXT = 120
"""Characters of a setting that is written freely."""

SETTINGS = (
    Setting("tonic", "drone", "Bb", "tonic of the drone", choices=tuple(name.plain for name in ALL_TONICS)),
    Setting("mode", "drone", "major", "mode of the key", choices=_names(MODES)),
    Setting("tuning", "drone", "just", "how the degrees are tuned", choices=_names(TUNINGS), reads=str),
    Setting("compare_with", "drone", "equal", "tuning heard while Compare is down", choices=_names(TUNINGS), reads=str),
    Setting("a4", "drone", 440.0, "pitch standard: A4 (ISO 16 says 440)", low=380.0, high=480.0, step=0.5, unit="Hz"),
    Setting("temperature", "drone", 20.0, "temperature of the room", low=0.0, high=45.0, step=0.5, unit="°C"),
    Setting("shape", "drone", "octaves", "what the drone is made of", choices=_names(SHAPES)),
    Setting("chord_degree", "drone", 0, "root of the chord, semitones above the tonic", low=0, high=11, unit="st"),
    Setting("octave", "drone", 2, "octave number of the lowest tonic", low=1, high=5),
    Setting("octaves", "drone", 2, "how many octaves the drone spans", low=1, high=4),
    Setting("timbre", "drone", "reed", "sound of the drone", choices=_names(TIMBRES)),
    Setting("drone_level", "drone", -18.0, "level of the drone", low=-48.0, high=0.0, unit="dB"),
    Setting("third_level", "drone", -3.0, "third against the root", low=-24.0, high=6.0, unit="dB"),
    Setting("slope", "drone", -3.0, "level per octave upward", low=-12.0, high=3.0, unit="dB"),
    Setting(
        "progression", "moving", "none", "chords, such as I:4 vi:2 ii:2 V7", choices=PROGRESSIONS, reads=_progression
    ),
    Setting("chords_by", "moving", "pedal", "what moves the chords", choices=("pedal", "pulse")),
    Setting("stays", "moving", "tonic", "what stays when the chord moves", choices=_names(CHOICES)),
    Setting("tonics", "long_tones", "none", "long tones, or tonics such as Bb F C", choices=LONG_TONES, reads=_tonics),
    Setting("tone_beats", "long_tones", 8, "beats that a long tone sounds", low=1, high=32),
    Setting("rest_beats", "long_tones", 4, "beats of rest for breath after it", low=0, high=16),
    Setting("reading", "ear", "concert", "whose written pitch is shown", choices=_names(INSTRUMENTS)),
    Setting("tolerance", "ear", 5, "how close counts as in tune", low=1, high=25, unit="cents"),
    Setting("answer_octave", "answer", "same", "octave of the answer, against the player's", choices=OCTAVES),
    Setting("answer_level", "answer", -18.0, "level of the answer", low=-48.0, high=0.0, unit="dB"),
    Setting("tempo", "pulse", 92.0, "beats per minute", low=20.0, high=300.0, step=1.0, unit="/min"),
    Setting("meter", "pulse", "4/4", "meter, or bars such as 4/4x3 3/4", choices=METERS, reads=parse_bars),
    Setting("groove", "pulse", "click", "pattern of the pulse", choices=("click", *_names(GROOVES)), reads=str),
    Setting("pulse_level", "pulse", -15.0, "level of the pulse", low=-48.0, high=0.0, unit="dB"),
    Setting("kit", "pulse", "click", "sounds of the plain beats", choices=_names(KITS)),
    Setting("subdivision", "pulse", 1, "parts of a beat", low=1, high=6),
    Setting("swing", "pulse", 2.0, "first of two swung notes against the second", low=1.0, high=3.0, step=0.1),
    Setting("accents", "pulse", "groups", "which beats are stressed", choices=ACCENTS),
    Setting("cross", "pulse", "off", "cross-rhythm, strokes to beats", choices=tuple(CROSSINGS)),
    Setting("count_in", "pulse", 0, "bars counted in", low=0, high=4),
    Setting("pickup", "pulse", 0.0, "beats before bar 1", low=0.0, high=8.0, step=0.5),
    Setting("heard_bars", "pulse", 2, "bars heard before silent ones", low=1, high=16),
    Setting("silent_bars", "pulse", 0, "silent bars after them, 0 for none", low=0, high=16),
    Setting("ramp_to", "pulse", 60.0, "tempo at the end of the ramp", low=20.0, high=300.0, step=1.0, unit="/min"),
    Setting("ramp_over", "pulse", 0, "beats that the ramp takes, 0 for none", low=0, high=128),
    Setting("ramp_after", "pulse", 4, "bars before the ramp", low=0, high=64),
    Setting("ramp_law", "pulse", "beat", "what the ramp is even in", choices=("beat", "time")),
    Setting("moves", "pulse", "none", "tempo moves, such as 92->60 over 8 beats", choices=("none",), reads=_moves),
    Setting("tempo_change", "pulse", "next-beat", "when a new tempo begins", choices=("next-beat", "at-once")),
    Setting("pulse_start", "pulse", "tap", "what starts the pulse", choices=("tap", "next-press")),
    Setting("preroll", "takes", 8, "seconds kept from before a take", low=0, high=30, unit="s"),
    Setting(
        "rest_markers", "rests", 5, "seconds of rest after which a marker is set, 0 for none", low=0, high=60, unit="s"
    ),
    Setting("replay_level", "replay", -20.0, "loudness of a replay", low=-40.0, high=-10.0, unit="LUFS"),
    Setting("replay_match", "replay", "even", "how loud a take is replayed", choices=("even", "as-it-was")),
    Setting("ear_hears", "replay", "room", "what the ear hears during a replay", choices=("room", "replay")),
    Setting("mic_gain", "takes", 0.0, "gain on the microphone", low=-24.0, high=24.0, unit="dB"),
    Setting("take_source", "takes", "microphone", "what a take records", choices=("microphone", "microphone and box")),
    Setting("take_part_minutes", "takes", 60, "minutes after which a take goes on in a new file", low=1, high=240),
    Setting(
        "level_offset", "level", 0.0, "dB(A) at full scale; 0 is uncalibrated", low=0.0, high=160.0, step=0.5, unit="dB"
    ),
    Setting("keyboard_follows", "keyboard", "key", "how a keyboard is tuned", choices=("key", *_names(CHOICES))),
    Setting("keyboard_level", "keyboard", -18.0, "level of the keyboard", low=-48.0, high=0.0, unit="dB"),
    Setting("tuning_out", "keyboard", "off", "tuning sent by MIDI", choices=("off", "scale", "notes")),
    Setting("chosen_drill", "drills", "settle", "drill that the page Drill begins", choices=_names(DRILLS)),
    Setting("group", "drills", EVERYONE, "group that a drill is for, never a person", choices=GROUPS, reads=own_group),
    Setting("group_number", "drills", 0, "its number, 0 for none", low=0, high=9),
    Setting("drill_degree", "drills", 3, "degree of the scale that settles", low=2, high=7),
    Setting("drill_rounds", "drills", 6, "rounds of settle and balance", low=1, high=24),
    Setting("settle_by", "drills", "knob", "who moves the degree that settles", choices=("knob", "player")),
    Setting("match_within", "drills", 10, "cents within which a match is held", low=2, high=30, unit="cents"),
    Setting("match_seconds", "drills", 3, "seconds for which a match is held", low=1, high=10, unit="s"),
    Setting(
        "sound_card",
        "sound_card",
        "auto",
        "sound card that is preferred",
        choices=("auto", "usb", "board", "built-in", "screen"),
    ),
    Setting("keep_days", "eraser", 0, "days that takes are kept, 0 for ever", low=0, high=400, unit="days"),
    Setting("knob_order", "panel", "fifths", "order of the tonics on the knob", choices=("fifths", "semitones")),
    Setting("note_names", "panel", "english", "language of the note names", choices=_names(LANGUAGES)),
    Setting("degree_names", "panel", "figures", "how degrees are called", choices=_names(DEGREE_NAMES)),
    Setting("brightness", "light", 3, "brightness of the screen", low=1, high=5),
    Setting("screen_rest", "light", 10, "minutes untouched until the screen dims, 0 never", low=0, high=60, unit="min"),
)


@dataclass(frozen=True, slots=True)
class Values:
    """Values of some settings, never changed in place."""

    entries: Mapping[str, Value]

    def text(self, name: str) -> str:
        """A choice."""
        return str(self.entries[name])

    def number(self, name: str) -> float:
        """A number."""
        return float(self.entries[name])

    def whole(self, name: str) -> int:
        """A whole number."""
        return int(self.entries[name])

    def put(self, name: str, value: Value) -> Values:
        """The same with one value changed; raises for a value that is not allowed."""
        return Values(MappingProxyType({**self.entries, name: setting_named(name).clean(value)}))

    def owned(self, owner: str) -> Values:
        """Only the settings of one part."""
        mine = {s.name: self.entries[s.name] for s in SETTINGS if s.owner == owner}
        return Values(MappingProxyType(mine))


def setting_named(name: str) -> Setting:
    """The setting of this name; raises UnknownNameError."""
    for setting in SETTINGS:
        if setting.name == name:
            return setting
    raise UnknownNameError("setting", name, (s.name for s in SETTINGS), "setting-unknown")


DEFAULTS = Values(MappingProxyType({s.name: s.default for s in SETTINGS}))


def _entry(setting: Setting) -> Entry:
    if setting.reads:
        most = LONGEST_TEXT
        clean = setting.clean
        return Entry(setting.name, str, 1, most, default=setting.default, help=setting.help, convert=clean)
    if setting.choices:
        return Entry(setting.name, setting.choices, default=setting.default, help=setting.help)
    kind = type(setting.default)
    return Entry(setting.name, kind, setting.low, setting.high, default=setting.default, help=setting.help)


ENTRIES = tuple(_entry(s) for s in SETTINGS)


def read_settings(text: str, source: str = "settings.toml") -> tuple[Values, tuple[BadEntryError, ...]]:
    """Settings from a TOML text. A bad entry falls back to its default alone and is reported; nothing is raised."""
    checked = check(text, source, ENTRIES)
    return Values(MappingProxyType({**DEFAULTS.entries, **checked.values})), checked.problems


def write_settings(values: Values) -> str:
    """The settings file: a comment with help and range above each entry."""
    lines = ["# Keelnote settings. A line that the box can't use is reported and its default is taken."]
    lines += ["# Notes are named in English in this file, whatever note_names says: B is the natural, Bb the flat.", ""]
    for setting in SETTINGS:
        lines.append(f"# {setting.help}: {setting.allowed}")
        lines.append(f"{setting.name} = {json.dumps(values.entries[setting.name], ensure_ascii=False)}")
    return "\n".join(lines) + "\n"
