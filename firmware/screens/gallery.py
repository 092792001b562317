"""One invented view for each page and state; the pictures of the documents and the golden files are drawn from them."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from firmware.messages import line_of
from firmware.screens.view import ChordLine, DrillView, HeardNote, Rung, Setting, TakeLine, TrailPoint, View

_VALUES: Final[dict[str, Setting]] = {
    "tonic": "Bb",
    "mode": "major",
    "tuning": "just",
    "compare_with": "equal",
    "a4": 440.0,
    "temperature": 20.0,
    "shape": "triad",
    "chord_degree": 0,
    "octave": 2,
    "octaves": 2,
    "timbre": "reed",
    "drone_level": -18.0,
    "third_level": -3.0,
    "slope": -3.0,
    "progression": "none",
    "chords_by": "pedal",
    "stays": "tonic",
    "tonics": "none",
    "tone_beats": 8,
    "rest_beats": 4,
    "reading": "concert",
    "tolerance": 5,
    "answer_octave": "same",
    "answer_level": -18.0,
    "tempo": 92.0,
    "meter": "4/4",
    "groove": "click",
    "pulse_level": -15.0,
    "kit": "click",
    "subdivision": 1,
    "swing": 2.0,
    "accents": "groups",
    "cross": "off",
    "count_in": 0,
    "pickup": 0.0,
    "heard_bars": 2,
    "silent_bars": 0,
    "ramp_to": 60.0,
    "ramp_over": 0,
    "ramp_after": 4,
    "ramp_law": "beat",
    "moves": "none",
    "tempo_change": "next-beat",
    "pulse_start": "tap",
    "preroll": 8,
    "rest_markers": 5,
    "keep_days": 0,
    "replay_level": -20.0,
    "replay_match": "even",
    "ear_hears": "room",
    "mic_gain": 6.0,
    "take_source": "microphone",
    "take_part_minutes": 60,
    "level_offset": 0.0,
    "keyboard_follows": "key",
    "keyboard_level": -18.0,
    "tuning_out": "off",
    "knob_order": "fifths",
    "sound_card": "auto",
    "note_names": "english",
    "degree_names": "figures",
    "brightness": 3,
    "screen_rest": 10,
    "chosen_drill": "settle",
    "group": "Clarinets",
    "group_number": 2,
    "drill_degree": 3,
    "drill_rounds": 6,
    "settle_by": "knob",
    "match_within": 10,
    "match_seconds": 3,
}

_TRIAD: Final = (
    Rung("1", "B♭2", 0.0, 0.0, 1.0),
    Rung("3", "D3", 386.31, 400.0, 0.7),
    Rung("5", "F3", 701.96, 700.0, 0.9),
)


def _settling(start: float, end: float, target: float) -> tuple[TrailPoint, ...]:
    """A player who comes in off pitch and settles, with a little life in the tone; oldest first."""
    points = []
    for step in range(80):
        age = 3.8 - step * 0.0475
        gone = (3.8 - age) / 3.8
        off = end + (start - end) * math.exp(-4.0 * gone) + 1.2 * math.sin(step * 0.9)
        points.append(TrailPoint(age, target + off))
    return tuple(points)


_QUIET: Final = View(values=_VALUES, stick=True, free_minutes=412)
_SOUNDING: Final = replace(_QUIET, drone_on=True, rungs=_TRIAD, chord=("B♭2", "D3", "F3", "B♭3", "D4", "F4"))
_WATCHING: Final = replace(_SOUNDING, page="ear", ear="watch")
_SHARP_THIRD: Final = replace(
    _WATCHING,
    trail=_settling(30.0, 9.0, 386.31),
    heard=HeardNote("D4", "E4", "3", 9.0, 3.1, 395.3),
)


def _for_clarinets(view: View) -> View:
    return replace(view, badge="in B♭", values={**_VALUES, "reading": "clarinet"})


_TAKES: Final = (TakeLine(1, 83.0, 2), TakeLine(2, 245.0, 0), TakeLine(3, 31.0, 1))
_RECORDED: Final = replace(
    _QUIET, page="takes", cursor="chosen_take", takes=_TAKES, chosen_take=3, mic_peak_db=-12.0, mic_rms_db=-24.0
)
_BEATING: Final = replace(_QUIET, page="pulse", cursor="tempo", pulse_on=True, bar=12, beat=3)

_PLANNED: Final = replace(
    _SOUNDING,
    page="plan",
    plan_title="Ferry Hymn, from B",
    plan_step=2,
    plan_steps=5,
    plan_name="Saltmarsh Lane Band",
    plan_number=1,
    plans=2,
    plan_notes="Horns: the third is the low one. Listen to the tubas, then come in.",
    plan_next="Clarinets alone",
    plan_rest=38,
)

_QUESTION: Final = DrillView(running=True, group="Clarinets 2", place=2, rounds=6)
_DRILLED: Final = replace(_SHARP_THIRD, page="drill", cursor="drill_run")

GALLERY: Final[tuple[tuple[str, View], ...]] = (
    ("key-silent", _QUIET),
    ("key-drone", _SOUNDING),
    ("key-comparing", replace(_SOUNDING, comparing="equal")),
    ("key-badge", _for_clarinets(_SOUNDING)),
    ("key-mode", replace(_QUIET, cursor="mode", tonic="F♯", mode="harmonic minor",
                         values={**_VALUES, "tonic": "F#", "mode": "harmonic-minor"})),
    ("key-reading", _for_clarinets(replace(_SOUNDING, cursor="reading"))),
    ("key-plan", replace(_SOUNDING, plan_title="Chorale", plan_step=2, plan_steps=5)),
    ("key-minutes", replace(_SOUNDING, plan_title="Chorale", plan_step=2, plan_steps=5, plan_left=7)),
    ("key-german", replace(_SOUNDING, tonic="B", values={**_VALUES, "tonic": "B", "note_names": "german"})),
    ("key-fixed-do", replace(_SOUNDING, tonic="G♭", badge="in E♭", cursor="reading", values={
        **_VALUES, "tonic": "Gb", "note_names": "fixed-do", "reading": "trumpet-in-e-flat"})),
    ("key-taking", replace(_SOUNDING, taking=True, take_number=3, take_seconds=14.0)),
    ("key-message", replace(_SOUNDING, message=line_of("take-started", {"number": "3"}))),
    ("key-long-message", replace(_QUIET, message=line_of("bad-entry", {"thing": "settings.toml, line 12: tuning"}))),
    ("chord-silent", replace(_QUIET, page="chord", chord=("B♭2", "D3", "F3"),
                             rungs=tuple(replace(rung, sounding=False) for rung in _TRIAD))),
    ("chord-drone", replace(_SOUNDING, page="chord")),
    ("chord-shape", replace(_SOUNDING, page="chord", cursor="shape")),
    ("chord-fourth", replace(_SOUNDING, page="chord", cursor="chord_degree", values={**_VALUES, "chord_degree": 5},
                             chord=("E♭3", "G3", "B♭3"), rungs=(Rung("1", "B♭2", 0.0, 0.0, 0.9),
                             Rung("4", "E♭3", 498.04, 500.0, 1.0), Rung("6", "G3", 884.36, 900.0, 0.7)))),
    ("chord-moving", replace(_SOUNDING, page="chord", moving="ii65", drift=-7.16, chord=("E♭3", "G3", "B♭3", "C4"),
                             rungs=(Rung("1", "B♭2", 0.0, 0.0, 0.9), Rung("2", "C3", 196.7, 200.0, 1.0),
                             Rung("4", "E♭3", 491.0, 500.0, 1.0), Rung("6", "G3", 877.2, 900.0, 0.7)))),
    ("chord-steps", replace(_SOUNDING, page="chord", moving="V7", cursor="progression", drift=21.51,
                            values={**_VALUES, "progression": "I IV I64 V7 I"})),
    ("chord-fixed-do", replace(_SOUNDING, page="chord", values={**_VALUES, "note_names": "fixed-do",
                                                                "degree_names": "movable-do"})),
    ("ear-off", replace(_QUIET, page="ear", rungs=tuple(replace(rung, sounding=False) for rung in _TRIAD))),
    ("ear-listening", replace(_WATCHING, silence="silence")),
    ("ear-left-off", replace(_WATCHING, silence="silence",
                             trail=tuple(p for p in _settling(-40.0, -6.0, 701.96) if p.age > 1.0))),
    ("ear-near", _SHARP_THIRD),
    ("ear-badge", _for_clarinets(_SHARP_THIRD)),
    ("ear-german", replace(_SHARP_THIRD, heard=HeardNote("A♭4", "B♭♭4", "5", 9.0, 3.1, 710.9), badge="in B♭", values={
        **_VALUES, "note_names": "german", "reading": "clarinet", "degree_names": "movable-do"})),
    ("ear-flat", replace(_QUIET, page="ear", cursor="tolerance", ear="watch", trail=_settling(-38.0, -14.0, 701.96),
                         heard=HeardNote("F4", "G4", "5", -14.0, None, 687.96))),
    ("ear-answering", replace(_SHARP_THIRD, ear="answer", answering="D4")),
    ("ear-answer-octave", replace(_WATCHING, ear="answer", silence="silence", cursor="answer_octave",
                                  values={**_VALUES, "answer_octave": "lower"})),
    ("ear-chord", replace(_QUIET, page="ear", ear="chord check", checked="B♭ major", checked_degrees=(
        ChordLine("1", -3.0, 2), ChordLine("3", 12.0, 3), ChordLine("5", 1.0, 1)))),
    ("ear-chord-hidden", replace(_QUIET, page="ear", ear="chord check", checked="A half-diminished seventh",
                                 checked_degrees=(ChordLine("7", 4.0, 2), ChordLine("2", -26.0, 2),
                                                  ChordLine("4", None, 0, "can't be heard apart"),
                                                  ChordLine("6", None, 0, "not heard")))),
    ("pulse-off", replace(_QUIET, page="pulse")),
    ("pulse-beat", _BEATING),
    ("pulse-late", replace(_BEATING, cursor="tonic", lateness_ms=12.0)),
    ("pulse-waiting", replace(_QUIET, page="pulse", waiting=True)),
    ("pulse-first", replace(_BEATING, cursor="groove", beat=1, bar=13)),
    ("pulse-additive", replace(_BEATING, cursor="meter", meter="2+2+3/8", meter_groups=(2, 2, 3), beats=7, beat=5,
                               beat_value=(1, 8), phase=0.5, tempo=216.0, values={**_VALUES, "meter": "2+2+3/8"})),
    ("pulse-compound", replace(_BEATING, cursor="tonic", meter="6/8", meter_groups=(2,), beats=2, beat=2, bar=144,
                               beat_value=(3, 8), phase=0.25, tempo=112.5, next_bar="3/4",
                               values={**_VALUES, "groove": "march-in-6-8"})),
    ("pulse-ramp", replace(_BEATING, cursor="tonic", ramp=0.6, ramp_to=60.0, tempo=72.8, bar=9)),
    ("pulse-groove", replace(_BEATING, cursor="tonic", beat=4, phase=0.75,
                             values={**_VALUES, "groove": "straight-sixteenths"})),
    ("pulse-silent", replace(_BEATING, cursor="tonic", silent_bar=True, phase=0.25, next_bar="heard")),
    ("pulse-count-in", replace(_BEATING, cursor="tonic", counting=True, bar=0)),
    ("takes-none", replace(_QUIET, page="takes", stick=False)),
    ("takes-list", _RECORDED),
    ("takes-taking", replace(_RECORDED, cursor="mic_gain", taking=True, take_number=4, take_seconds=72.0, markers=1,
                             mic_peak_db=0.0, mic_rms_db=-14.0, clipped=True)),
    ("takes-replay", replace(_RECORDED, replaying=3, replay_seconds=12.0)),
    ("takes-slow", replace(_RECORDED, cursor="tonic", chosen_take=1, replaying=1, replay_seconds=31.0, replay_speed=75,
                           loop=("1", "2"), replay_bar=12, replay_late_ms=14.0)),
    ("takes-loop", replace(_RECORDED, cursor="loop_to", chosen_take=1, loop=("1", "end"))),
    ("takes-hears", replace(_RECORDED, cursor="ear_hears", values={**_VALUES, "ear_hears": "replay"})),
    ("room", replace(_QUIET, page="room")),
    ("room-standard", replace(_QUIET, page="room", cursor="a4", values={**_VALUES, "a4": 442.5})),
    ("room-cold", replace(_QUIET, page="room", cursor="temperature", values={**_VALUES, "temperature": 16.5})),
    ("room-tuning", replace(_SOUNDING, page="room", cursor="tuning",
                            values={**_VALUES, "tuning": "werckmeister-3"})),
    ("room-own", replace(_SOUNDING, page="room", cursor="own_cents", own_degree="3", own_note="D", own_cents=384.31,
                         own_equal=400.0, own_name="own 2", values={**_VALUES, "tuning": "own 2"})),
    ("room-level", replace(_SOUNDING, page="room", cursor="level_offset", sound_db=78.0, calibrated=True,
                           values={**_VALUES, "level_offset": 104.5})),
    ("room-check", replace(_QUIET, page="room", cursor="room_check", sound_db=-52.0, room_echo=0.8, room_removal=43)),
    ("room-checking", replace(_QUIET, page="room", cursor="room_check", sound_db=-28.0, checking=True, check_seconds=4,
                              message=line_of("room-check-runs"))),
    ("plan", replace(_PLANNED, plan_left=7)),
    ("plan-step", replace(_PLANNED, cursor="plan_step", plan_left=-2)),
    ("plan-chosen", replace(_PLANNED, cursor="chosen_plan", plan_left=7)),
    ("plan-ready", replace(_PLANNED, plan_step=0, plan_title="", plan_notes="", plan_next="Warm-up", plan_rest=55)),
    ("plan-last", replace(_PLANNED, plan_step=5, plan_title="Play through", plan_notes="", plan_next="",
                          plan_rest=None)),
    ("plan-none", replace(_QUIET, page="plan")),
    ("drill", replace(_QUIET, page="drill", cursor="chosen_drill")),
    ("drill-group", replace(_QUIET, page="drill", cursor="group_number", drill=DrillView(
        big="−2 cents", small="middle of 6"), values={**_VALUES, "chosen_drill": "which-is-it"})),
    ("drill-settle", replace(_DRILLED, drill=replace(_QUESTION, big="Listen", small="say when it rests"))),
    ("drill-settled", replace(_DRILLED, drill=replace(_QUESTION, big="+4", small="cents from just, 1.4 beats/s"))),
    ("drill-which", replace(_DRILLED, drill=replace(_QUESTION, group="Contrabass clarinets 2", place=11, rounds=12,
                                                    big="Which is it?", small="Drone: just  Compare: equal"))),
    ("drill-match", replace(_DRILLED, badge="in B♭", drill=replace(_QUESTION, place=3, rounds=8, big="3: E",
                                                                   small="hold it ±10 cents, 3 s"))),
    ("setup", replace(_QUIET, page="setup", cursor="knob_order")),
    ("setup-names", replace(_QUIET, page="setup", cursor="note_names", values={**_VALUES, "note_names": "fixed-do"})),
    ("setup-sound", replace(_QUIET, page="setup", cursor="sound_card")),
    ("setup-no-stick", replace(_QUIET, page="setup", stick=False)),
    ("setup-release", replace(_QUIET, page="setup", cursor="stick_release", release_left=3)),
    ("setup-released", replace(_QUIET, page="setup", cursor="stick_release", stick=False, stick_released=True)),
)  # fmt: skip
"""Name of the picture, and its view."""
