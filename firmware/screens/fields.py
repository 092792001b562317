"""Every field that the knob can work on: its page, its label, and how its value is written. One row each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from firmware.errors import KeelnoteError
from firmware.music.chords import shape_named
from firmware.music.degree_names import degree_names_named
from firmware.music.grooves import groove_named
from firmware.music.keys import key_of
from firmware.music.languages import language_named
from firmware.music.modes import mode_named
from firmware.music.moving.choices import choice_named
from firmware.music.temperature import suggested_reference, winds_off
from firmware.music.transposition import instrument_named
from firmware.music.tunings import tuning_named
from firmware.music.words import Words, words_of
from firmware.screens.view import View

TONIC: Final = "tonic"
"""The field on which the cursor rests."""

NOTHING: Final = "–"
"""Stands where there is no value."""

MOST_MINUTES: Final = 1000
MOST_HOURS: Final = 9999
PLAN_SHOWN: Final = 14
"""Characters of a plan's title that are shown beside its number."""

SHOWN: Final = 16
"""Characters of a text of the user's own that are shown."""
"""Where the room on the stick goes over to hours, and where it stops counting."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its name (a setting's, or `chosen_take`), page, label, and how the view's value is written."""

    name: str
    page: str
    label: str
    write: Callable[[View], str]


def signed(value: float) -> str:
    """A number as musicians read it: a true minus sign, a plus for what is above, no needless decimals."""
    text = f"{value:+g}".replace("-", "−")
    return "0" if value == 0 else text


def time_text(seconds: float) -> str:
    """Minutes and seconds, 1:05."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


def marks_text(count: int) -> str:
    """Number of markers in words."""
    return f"{count} mark{'s' if count != 1 else ''}"


def room_text(minutes: int) -> tuple[str, str]:
    """Room on the stick as a number of at most four figures and its unit."""
    if minutes < MOST_MINUTES:
        return str(minutes), "min"
    return str(min(minutes // 60, MOST_HOURS)), "hours"


def tempo_text(tempo: float) -> str:
    """Beats per minute, to a tenth."""
    return f"{round(tempo, 1):g}"


def in_room(name: str, write: Callable[[Words, str], str]) -> Callable[[View], str]:
    """Writes a setting that has note names in it, in the room's words."""
    return lambda view: write(words_of(view.values), str(view.values[name])) if name in view.values else NOTHING


def titled(name: str, find: Callable[[str], str]) -> str:
    """Title of a name from a registry; the name itself if the registry lacks it."""
    try:
        return find(name)
    except KeelnoteError:
        return name


def setting(name: str, write: Callable[[str], str]) -> Callable[[View], str]:
    """Writes a setting that is a choice."""
    return lambda view: write(str(view.values[name])) if name in view.values else NOTHING


def number(name: str, write: Callable[[float], str]) -> Callable[[View], str]:
    """Writes a setting that is a number."""
    return lambda view: write(float(view.values[name])) if name in view.values else NOTHING


def decibels(value: float) -> str:
    """A level."""
    return f"{signed(value)} dB"


def mode_title(name: str) -> str:
    """Title of a mode."""
    return titled(name, lambda known: mode_named(known).title)


def tuning_title(name: str) -> str:
    """Title of a tuning."""
    return meter_short(titled(name, lambda known: tuning_named(known).title))


def language_title(name: str) -> str:
    """Title of a language of note names."""
    return titled(name, lambda known: language_named(known).title)


def degrees_title(name: str) -> str:
    """How degrees are called."""
    return titled(name, lambda known: degree_names_named(known).title)


def shape_title(name: str) -> str:
    """Title of a drone's shape."""
    return titled(name, lambda known: shape_named(known).title)


def reader(name: str) -> str:
    """Title of who reads."""
    return titled(name, lambda known: instrument_named(known).title)


def groove_title(name: str) -> str:
    """Title of a groove; a name of the user's own as it is."""
    return titled(name, lambda known: groove_named(known).title)[:SHOWN]


def meter_short(text: str) -> str:
    """A text of one's own, as much as there is room for."""
    return text if len(text) <= SHOWN else text[: SHOWN - 1] + "…"


def spaced(name: str) -> str:
    """A name with its words apart."""
    return name.replace("-", " ")


def bars_text(count: float) -> str:
    """So many bars."""
    return "none" if not count else f"{count:g} bar{'s' if count != 1 else ''}"


def beats_text(count: float) -> str:
    """So many beats."""
    return "none" if not count else f"{count:g} beat{'s' if count != 1 else ''}"


def chord_root(view: View) -> str:
    """Name of the chord's root: E♭ for the fourth degree of B♭ major."""
    return chord_place(view)[1]


def chord_place(view: View) -> tuple[str, str]:
    """Degree and name of the chord's root."""
    semitones = int(float(view.values.get("chord_degree", 0)))
    words = words_of(view.values)
    try:
        key = key_of(str(view.values.get("tonic", view.tonic)), str(view.values.get("mode", view.mode)))
    except KeelnoteError:
        return str(semitones), view.tonic
    return words.degree(key.label(semitones), key.mode.name), words.notes.say(key.spell(semitones))


def chord_degree(view: View) -> str:
    """Degree on which the chord stands, with its name: 4 (E♭)."""
    degree, name = chord_place(view)
    return f"{degree} ({name})"


def chords_short(words: Words, text: str) -> str:
    """As much of a progression, or of a list of tonics, as there is room for."""
    return meter_short(words.chords(text))


def stays_title(name: str) -> str:
    """Title of what stays when the chord moves."""
    return titled(name, lambda known: choice_named(known).title)


def follows_title(name: str) -> str:
    """How the keyboard is tuned."""
    return "key" if name == "key" else stays_title(name)


def drift_text(cents: float) -> str:
    """How far a chord lies from its place in the key."""
    return f"drift {signed(round(cents, 1) + 0.0)} ct"


def minutes_text(minutes: int) -> str:
    """Minutes left, or by how many it took longer than planned."""
    return f"{minutes} min" if minutes >= 0 else f"+{-minutes} min"


def plan_step(view: View) -> str:
    """Number of the step of the plan, and of how many."""
    return f"{view.plan_step}/{view.plan_steps}" if view.plan_steps else NOTHING


def chosen_plan(view: View) -> str:
    """The plan that is chosen, of those on the stick."""
    if not view.plans:
        return "none"
    return f"{view.plan_number}/{view.plans} {view.plan_name[:PLAN_SHOWN]}".rstrip()


def chosen_take(view: View) -> str:
    """The take that Replay plays, with its length and markers."""
    for take in view.takes:
        if take.number == view.chosen_take:
            marked = f" · {marks_text(take.markers)}" if take.markers else ""
            return f"{take.number}/{len(view.takes)} · {time_text(take.seconds)}{marked}"
    return "none yet" if not view.takes else NOTHING


def rest_text(seconds: float) -> str:
    """Rests that are marked."""
    return f"{seconds:g} s" if seconds else "none"


def days_text(days: float) -> str:
    """How long takes are kept."""
    return f"{days:g} days" if days else "for ever"


def resting(minutes: float) -> str:
    """How long until the screen rests."""
    return f"after {minutes:g} min" if minutes else "never"


def releasing(view: View) -> str:
    """How far the knob must still be turned to the right until the stick may be pulled."""
    if view.stick_released:
        return "may be pulled"
    return f"turn {view.release_left} right" if view.stick else "none"


def erasing(view: View, name: str) -> str:
    """How far the knob must still be turned to the right until takes are gone."""
    return f"turn {dict(view.erase_left).get(name, 0)} right"


def loop_point(view: View, end: int) -> str:
    """Where the loop begins (0) or ends (1)."""
    return view.loop[end] or ("off" if end == 0 else NOTHING)


def sound_level(view: View) -> str:
    """Level of the room, with what it is counted in."""
    return f"{signed(round(view.sound_db))} dBFS" if not view.calibrated else f"{round(view.sound_db)} dB(A)"


def temperature(view: View) -> str:
    """Temperature of the room, what it does to winds, and the reference that they would like."""
    if "temperature" not in view.values:
        return NOTHING
    celsius = float(view.values["temperature"])
    off = signed(round(winds_off(celsius)) + 0)
    return f"{celsius:g}° winds {off} ct {suggested_reference(celsius, float(view.values['a4'])):g}"


def own_cents(view: View) -> str:
    """Where the degree lies that the knob tunes, and how far that is from equal temperament."""
    off = signed(round(view.own_cents - view.own_equal, 1) + 0.0)
    return f"{view.own_cents:.1f} ct ({off})"


def room_check(view: View) -> str:
    """What the room check does or found."""
    if view.checking:
        return f"{view.check_seconds} s"
    if view.room_removal is None:
        return "turn"
    echo = "" if view.room_echo is None else f"{view.room_echo:.1f} s "
    return f"{echo}−{view.room_removal} dB"


FIELDS: Final[tuple[Field, ...]] = (
    Field(TONIC, "key", "tonic", lambda view: view.tonic),
    Field("mode", "key", "mode", setting("mode", mode_title)),
    Field("octave", "key", "octave", number("octave", "{:g}".format)),
    Field("reading", "key", "reads", in_room("reading", lambda words, name: words.part(reader(name)))),
    Field("shape", "chord", "shape", setting("shape", shape_title)),
    Field("chord_degree", "chord", "on degree", chord_degree),
    Field("octaves", "chord", "octaves", number("octaves", "{:g}".format)),
    Field("third_level", "chord", "third", number("third_level", decibels)),
    Field("slope", "chord", "slope", number("slope", lambda value: f"{signed(value)} dB an octave")),
    Field("timbre", "chord", "timbre", setting("timbre", str)),
    Field("progression", "chord", "chords", in_room("progression", chords_short)),
    Field("chords_by", "chord", "moved by", setting("chords_by", str)),
    Field("stays", "chord", "stays", setting("stays", stays_title)),
    Field("tonics", "chord", "long tones", in_room("tonics", chords_short)),
    Field("tone_beats", "chord", "each for", number("tone_beats", beats_text)),
    Field("rest_beats", "chord", "then rest", number("rest_beats", beats_text)),
    Field("tolerance", "ear", "in tune", number("tolerance", "±{:g}".format)),
    Field("answer_octave", "ear", "octave", setting("answer_octave", str)),
    Field("answer_level", "ear", "level", number("answer_level", decibels)),
    Field("tempo", "pulse", "tempo", number("tempo", tempo_text)),
    Field("tempo_tenths", "pulse", "tempo by tenths", number("tempo", "{:.1f}".format)),
    Field("meter", "pulse", "meter", setting("meter", meter_short)),
    Field("groove", "pulse", "groove", setting("groove", groove_title)),
    Field("pulse_level", "pulse", "level", number("pulse_level", decibels)),
    Field("kit", "pulse", "sounds", setting("kit", str)),
    Field("subdivision", "pulse", "beat in parts", number("subdivision", "{:g}".format)),
    Field("swing", "pulse", "swing", number("swing", "{:.1f} to 1".format)),
    Field("accents", "pulse", "accents", setting("accents", str)),
    Field("cross", "pulse", "cross-rhythm", setting("cross", str)),
    Field("count_in", "pulse", "count-in", number("count_in", bars_text)),
    Field("pickup", "pulse", "pickup", number("pickup", beats_text)),
    Field("heard_bars", "pulse", "heard", number("heard_bars", bars_text)),
    Field("silent_bars", "pulse", "then silent", number("silent_bars", bars_text)),
    Field("ramp_to", "pulse", "ramp to", number("ramp_to", tempo_text)),
    Field("ramp_over", "pulse", "ramp over", number("ramp_over", beats_text)),
    Field("ramp_after", "pulse", "ramp after", number("ramp_after", bars_text)),
    Field("ramp_law", "pulse", "ramp even by", setting("ramp_law", str)),
    Field("moves", "pulse", "moves", setting("moves", meter_short)),
    Field("tempo_change", "pulse", "new tempo", setting("tempo_change", spaced)),
    Field("pulse_start", "pulse", "starts on", setting("pulse_start", spaced)),
    Field("chosen_take", "takes", "take", chosen_take),
    Field("replay_speed", "takes", "speed", lambda view: f"{view.replay_speed} %"),
    Field("loop_from", "takes", "loop from", lambda view: loop_point(view, 0)),
    Field("loop_to", "takes", "loop to", lambda view: loop_point(view, 1)),
    Field("ear_hears", "takes", "ear hears", setting("ear_hears", str)),
    Field("replay_match", "takes", "replay is", setting("replay_match", spaced)),
    Field("replay_level", "takes", "even at", number("replay_level", lambda value: f"{signed(value)} LUFS")),
    Field("preroll", "takes", "pre-roll", number("preroll", "{:g} s".format)),
    Field("mic_gain", "takes", "gain", number("mic_gain", decibels)),
    Field("take_source", "takes", "records", setting("take_source", str)),
    Field("take_part_minutes", "takes", "new file each", number("take_part_minutes", "{:g} min".format)),
    Field("rest_markers", "takes", "marks rests of", number("rest_markers", rest_text)),
    Field("keep_days", "takes", "keep takes", number("keep_days", days_text)),
    Field("delete_take", "takes", "delete it", lambda view: erasing(view, "delete_take")),
    Field("delete_all", "takes", "delete all", lambda view: erasing(view, "delete_all")),
    Field("a4", "room", "A4", number("a4", "{:g}".format)),
    Field("tuning", "room", "tuning", setting("tuning", tuning_title)),
    Field("compare_with", "room", "compare", setting("compare_with", tuning_title)),
    Field("drone_level", "room", "drone", number("drone_level", decibels)),
    Field("level_offset", "room", "level", sound_level),
    Field("room_check", "room", "room check", room_check),
    Field("temperature", "room", "air", temperature),
    Field("own_tone", "room", "tune degree", lambda view: f"{view.own_degree} ({view.own_note})"),
    Field("own_cents", "room", "tuned to", own_cents),
    Field("own_name", "room", "own tuning", lambda view: view.own_name or "turn to begin"),
    Field("keyboard_follows", "setup", "keys", setting("keyboard_follows", follows_title)),
    Field("keyboard_level", "setup", "level of keys", number("keyboard_level", decibels)),
    Field("tuning_out", "setup", "tuning out", setting("tuning_out", str)),
    Field("knob_order", "setup", "knob", setting("knob_order", str)),
    Field("sound_card", "setup", "sound card", setting("sound_card", str)),
    Field("note_names", "setup", "notes", setting("note_names", language_title)),
    Field("degree_names", "setup", "degrees", setting("degree_names", degrees_title)),
    Field("brightness", "setup", "light", number("brightness", "{:g} of 5".format)),
    Field("screen_rest", "setup", "dims", number("screen_rest", resting)),
    Field("stick_release", "setup", "free the stick", releasing),
    Field("plan_step", "plan", "step", plan_step),
    Field("chosen_plan", "plan", "plan", chosen_plan),
    Field("chosen_drill", "drill", "drill", setting("chosen_drill", spaced)),
    Field("drill_run", "drill", "begin", lambda _view: "turn right"),
    Field("group", "drill", "for", setting("group", str)),
    Field("group_number", "drill", "number", number("group_number", lambda value: f"{value:g}" if value else "none")),
    Field("drill_degree", "drill", "degree", number("drill_degree", "{:g}".format)),
    Field("drill_rounds", "drill", "rounds", number("drill_rounds", "{:g}".format)),
    Field("settle_by", "drill", "moved by", setting("settle_by", str)),
    Field("match_within", "drill", "match within", number("match_within", "{:g} cents".format)),
    Field("match_seconds", "drill", "held for", number("match_seconds", "{:g} s".format)),
)

BY_NAME: Final[dict[str, Field]] = {field.name: field for field in FIELDS}


def fields_of(page: str) -> tuple[str, ...]:
    """Names of a page's fields in the order of the cursor."""
    return tuple(field.name for field in FIELDS if field.page == page)


def written(view: View, name: str) -> str:
    """A field's value as the screen shows it."""
    return BY_NAME[name].write(view)
