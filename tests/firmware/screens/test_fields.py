"""Fields: one row each, written as musicians write, and every value of every setting fits its place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from firmware.music.keys import TONICS
from firmware.music.modes import MODES
from firmware.screens import fields
from firmware.screens.fields import BY_NAME, FIELDS, NOTHING, chord_root, fields_of, written
from firmware.screens.pages import PAGES
from firmware.screens.view import Setting, TakeLine, View
from firmware.settings import SETTINGS

Cuts = Callable[[View], list[str]]
WithValue = Callable[[View, str, Setting], View]


def test_every_setting_is_a_field_of_one_page() -> None:
    assert {field.name for field in FIELDS} == {setting.name for setting in SETTINGS} | {
        "chosen_take",
        "replay_speed",
        "loop_from",
        "loop_to",
        "delete_take",
        "delete_all",
        "plan_step",
        "chosen_plan",
        "tempo_tenths",
        "room_check",
        "drill_run",
        "stick_release",
        "own_tone",
        "own_cents",
        "own_name",
    }
    assert len(BY_NAME) == len(FIELDS)


def test_the_level_says_what_it_is_counted_in() -> None:
    assert written(View(sound_db=-42.0), "level_offset") == "−42 dBFS"
    assert written(View(sound_db=78.0, calibrated=True), "level_offset") == "78 dB(A)"


def test_the_room_check_says_what_it_does_or_found() -> None:
    assert written(View(), "room_check") == "turn"
    assert written(View(checking=True, check_seconds=4), "room_check") == "4 s"
    assert written(View(room_echo=0.83, room_removal=43), "room_check") == "0.8 s −43 dB"
    assert written(View(room_removal=20), "room_check") == "−20 dB"


def test_pages_have_the_fields_of_the_design() -> None:
    assert {page.name: fields_of(page.name) for page in PAGES} == {
        "key": ("tonic", "mode", "octave", "reading"),
        "chord": (
            "shape",
            "chord_degree",
            "octaves",
            "third_level",
            "slope",
            "timbre",
            "progression",
            "chords_by",
            "stays",
            "tonics",
            "tone_beats",
            "rest_beats",
        ),
        "ear": ("tolerance", "answer_octave", "answer_level"),
        "pulse": (
            "tempo",
            "tempo_tenths",
            "meter",
            "groove",
            "pulse_level",
            "kit",
            "subdivision",
            "swing",
            "accents",
            "cross",
            "count_in",
            "pickup",
            "heard_bars",
            "silent_bars",
            "ramp_to",
            "ramp_over",
            "ramp_after",
            "ramp_law",
            "moves",
            "tempo_change",
            "pulse_start",
        ),
        "takes": (
            "chosen_take",
            "replay_speed",
            "loop_from",
            "loop_to",
            "ear_hears",
            "replay_match",
            "replay_level",
            "preroll",
            "mic_gain",
            "take_source",
            "take_part_minutes",
            "rest_markers",
            "keep_days",
            "delete_take",
            "delete_all",
        ),
        "room": (
            *("a4", "tuning", "compare_with", "drone_level", "level_offset", "room_check", "temperature"),
            *("own_tone", "own_cents", "own_name"),
        ),
        "setup": (
            *("keyboard_follows", "keyboard_level", "tuning_out"),
            *("knob_order", "sound_card", "note_names", "degree_names", "brightness", "screen_rest", "stick_release"),
        ),
        "plan": ("plan_step", "chosen_plan"),
        "drill": (
            "chosen_drill",
            "drill_run",
            "group",
            "group_number",
            "drill_degree",
            "drill_rounds",
            "settle_by",
            "match_within",
            "match_seconds",
        ),
    }


@pytest.mark.parametrize("name", [setting.name for setting in SETTINGS])
def test_every_value_fits_its_place(
    name: str, view: View, cuts: Cuts, with_value: WithValue, all_values: Callable[[str], Iterator[Setting]]
) -> None:
    page = BY_NAME[name].page
    for value in all_values(name):
        changed = with_value(replace(view, page=page, cursor=name), name, value)
        assert written(changed, name) not in {"", NOTHING}
        assert cuts(changed) == [], value
        assert cuts(replace(changed, cursor="tonic", drone_on=True, page=page)) == [], value


def test_every_chord_degree_fits_in_every_key(view: View, cuts: Cuts) -> None:
    for mode in MODES:
        for tonic in TONICS:
            for semitones in range(12):
                values = {**view.values, "tonic": tonic.plain, "mode": mode.name, "chord_degree": semitones}
                shown = replace(
                    view, page="chord", cursor="chord_degree", tonic=tonic.text, mode=mode.title, values=values
                )
                assert cuts(shown) == [], (tonic.text, mode.name, semitones)


def test_every_take_fits(view: View, cuts: Cuts) -> None:
    for number, seconds, markers in ((1, 0.4, 0), (99, 59.9, 1), (99, 5999.0, 99)):
        takes = (*(TakeLine(other, 1.0, 0) for other in range(1, number)), TakeLine(number, seconds, markers))
        shown = replace(view, page="takes", cursor="chosen_take", takes=takes, chosen_take=number)
        assert cuts(shown) == []


def test_values_are_written_as_musicians_write_them(view: View, with_value: WithValue) -> None:
    samples: list[tuple[str, Setting, str]] = [
        ("third_level", -3.0, "−3 dB"),
        ("mic_gain", 6.0, "+6 dB"),
        ("drone_level", 0.0, "0 dB"),
        ("slope", -3.0, "−3 dB an octave"),
        ("a4", 442.5, "442.5"),
        ("preroll", 8, "8 s"),
        ("tolerance", 5, "±5"),
        ("tempo", 92.04, "92"),
        ("brightness", 3, "3 of 5"),
        ("screen_rest", 10, "after 10 min"),
        ("screen_rest", 0, "never"),
        ("mode", "harmonic-minor", "harmonic minor"),
        ("tuning", "werckmeister-3", "Werckmeister III"),
        ("chord_degree", 5, "4 (E♭)"),
    ]
    for name, value, text in samples:
        assert written(with_value(view, name, value), name) == text


def test_a_name_that_no_registry_has_is_shown_as_it_is(view: View, with_value: WithValue) -> None:
    for name in ("mode", "tuning", "compare_with", "shape", "reading"):
        assert written(with_value(view, name, "mine"), name) == "mine"


def test_nothing_known_is_written_as_a_dash() -> None:
    for field in FIELDS:
        assert field.write(View(values={})) != ""
    assert written(View(values={}), "mode") == NOTHING
    assert written(View(values={}), "a4") == NOTHING


def test_the_root_of_a_chord_is_spelled_in_its_key(view: View, with_value: WithValue) -> None:
    assert chord_root(with_value(view, "chord_degree", 5)) == "E♭"
    assert chord_root(with_value(with_value(view, "tonic", "E"), "chord_degree", 11)) == "D♯"
    assert chord_root(with_value(replace(view, tonic="?"), "tonic", "?")) == "?"


def test_takes_are_written_with_length_and_markers(view: View) -> None:
    takes = (TakeLine(1, 83.9, 2), TakeLine(2, 5.0, 1), TakeLine(3, 0.0, 0))
    texts = [written(replace(view, takes=takes, chosen_take=number), "chosen_take") for number in (1, 2, 3, 7)]
    assert texts == ["1/3 · 1:23 · 2 marks", "2/3 · 0:05 · 1 mark", "3/3 · 0:00", NOTHING]
    assert written(view, "chosen_take") == "none yet"


def test_small_writers() -> None:
    assert [fields.signed(value) for value in (-14, 0, 3, -0.0)] == ["−14", "0", "+3", "0"]
    assert [fields.time_text(value) for value in (-1.0, 59.99, 60.0, 3725.0)] == ["0:00", "0:59", "1:00", "62:05"]
    assert [fields.room_text(minutes) for minutes in (0, 999, 1000, 10**9)] == [
        ("0", "min"),
        ("999", "min"),
        ("16", "hours"),
        ("9999", "hours"),
    ]
    assert [fields.tempo_text(tempo) for tempo in (92.0, 92.46, 300.0)] == ["92", "92.5", "300"]
