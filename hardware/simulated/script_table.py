"""What may stand in the script of a rehearsal: every key with its type, range, default and a line of help."""

from __future__ import annotations

import re
from dataclasses import fields
from typing import Final

from firmware.errors import OutOfRangeError
from firmware.events import PanelKey, Pedal
from firmware.music.notes import parse_note
from firmware.plan.checked_toml import Entry, Section
from firmware.plan.plan import PLAN_TABLE
from firmware.settings import ENTRIES
from hardware.simulated.pupils import SAYINGS
from hardware.simulated.room import Room
from hardware.simulated.timbres import PLAYER_TIMBRES

LONGEST: Final = 7200.0
"""Seconds that a scripted rehearsal may last."""

DEGREE: Final = re.compile("[♭♯]?[1-7]")

ROOM_RANGES: Final = {
    "rt60": (0.0, 6.0),
    "delay_ms": (0.0, 200.0),
    "latency": (512.0, 24_000.0),
    "speaker_db": (-60.0, 6.0),
    "reverb_db": (-60.0, 20.0),
    "player_ms": (0.0, 200.0),
    "player_reverb_db": (-60.0, 20.0),
    "noise_db": (-120.0, -20.0),
}


def _degree(text: str) -> str:
    sign = text[:-1].replace("b", "♭").replace("#", "♯")
    degree = sign + text[-1:]
    if not DEGREE.fullmatch(degree):
        raise OutOfRangeError("degree", text, "a digit from 1 to 7, with b or # before it if need be")
    return degree


def _note(text: str) -> str:
    return parse_note(text).text


def _room_entries() -> tuple[Entry, ...]:
    room = Room()
    return tuple(
        Entry(each.name, int if each.name == "latency" else float, *ROOM_RANGES[each.name], getattr(room, each.name))
        for each in fields(Room)
    )


KEYS: Final = tuple(key.value for key in PanelKey)

AT: Final = Entry("at", float, 0.0, LONGEST, required=True, help="Seconds from the beginning.")

PLAYER_TABLE: Final = (
    Entry("name", str, 1, 40, required=True, help="Name the player; [[play]] refers to it."),
    Entry("timbre", tuple(timbre.name for timbre in PLAYER_TIMBRES), required=True),
    Entry("level_db", float, -90.0, -3.0, -24.0, help="RMS at the microphone, dB below full scale"),
    Entry("count", int, 1, 12, 1, help="players who play the same part"),
    Entry("spread", float, 0.0, 50.0, 4.0, help="cents by which they differ (standard deviation)"),
)

CUE_TABLE: Final = (
    AT,
    Entry("tap", KEYS),
    Entry("hold", KEYS),
    Entry("seconds", float, 0.0, 60.0, 1.0, help="how long `hold` or `note` lasts"),
    Entry("press", KEYS),
    Entry("release", KEYS),
    Entry("turn", int, -200, 200, help="detents of the knob, clockwise counts up"),
    Entry("push", bool, default=None),
    Entry("push_turn", int, -200, 200),
    Entry("pedal", tuple(pedal.value for pedal in Pedal)),
    Entry("note", str, convert=_note, help="a key of the MIDI keyboard, such as Bb3, is down for `seconds`"),
    Entry("sustain", ("down", "up"), help="the keyboard's sustain pedal"),
    Entry("keyboard", ("in", "out"), help="the keyboard is plugged in or pulled out; its first note plugs it in too"),
    Section("hold_turn", (Entry("key", KEYS, required=True), Entry("steps", int, -200, 200, required=True))),
)

PLAY_TABLE: Final = (
    AT,
    Entry("player", str, required=True),
    Entry("seconds", float, 0.05, 600.0, 4.0),
    Entry("degree", str, convert=_degree, help="degree of the key that the box is in when the note begins"),
    Entry("note", str, convert=_note, help="a note by name, such as D4, instead of a degree"),
    Entry("octave", int, 0, 8, 4, help="octave number of the tonic under the degree"),
    Entry("cents", float, -200.0, 200.0, 0.0, help="cents off the in-tune pitch at the beginning"),
    Entry("settle_to", float, -200.0, 200.0, help="cents at the end; as at the beginning if left out"),
    Entry("settle_s", float, 0.0, 600.0, 0.0, help="seconds that the way takes"),
    Entry("settle_after", float, 0.0, 600.0, 0.0, help="seconds before it begins"),
    Entry("vibrato", float, 0.0, 100.0, 0.0, help="largest deviation in cents"),
    Entry("vibrato_hz", float, 0.1, 12.0, 5.0),
    Entry("level_db", float, -90.0, -3.0, help="instead of the player's level"),
)

CLASS_TABLE: Final = (
    AT,
    Entry("hears", float, 0.1, 100.0, 3.0, help="what is closer than this, in cents or dB, is right to its ears"),
    Entry("believes", float, -60.0, 60.0, 0.0, help="cents above just, or dB above the level, where it wants a degree"),
    Entry("says", SAYINGS, default=SAYINGS[0], help="what it says when it is asked which"),
    Entry("waits", float, 0.0, 60.0, 1.5, help="seconds that it listens before it says anything"),
    Entry("turns", float, 0.5, 40.0, 8.0, help="detents a second by which the knob follows it"),
)

SHOT_TABLE: Final = (AT, Entry("caption", str, 0, 120, ""))

SCRIPT_TABLE: Final = (
    Entry("title", str, 0, 120, "untitled"),
    Entry("seconds", float, 1.0, LONGEST, required=True, help="How long the rehearsal lasts."),
    Entry("seed", int, 0, 2**63 - 1, 1, help="another seed, another room and other players"),
    Entry("plan_file", str, 1, None, help="a plan or score beside the script, instead of [plan]"),
    Section("settings", ENTRIES),
    Section("room", _room_entries()),
    Section("plan", PLAN_TABLE),
    Section("player", PLAYER_TABLE, many=True),
    Section("cue", CUE_TABLE, many=True),
    Section("play", PLAY_TABLE, many=True),
    Section("class", CLASS_TABLE, many=True),
    Section("shot", SHOT_TABLE, many=True),
)
