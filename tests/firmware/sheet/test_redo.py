"""The log gives back what notes and timing were judged by; a damaged record costs itself."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.events import Event, HarmonyChanged, PlanStepped, PulseChanged, SettingChanged
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.music.moving.choices import CHOICES
from firmware.music.moving.progression import held, progression_of
from firmware.music.naming import targets_of
from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.music.tuning import own_tuning
from firmware.sheet.log_lines import event_line, log_line, read_log
from firmware.sheet.redo import judged_events, take_starts
from firmware.take_events import TakeSaved, TakeStarted
from firmware.units import RATE, cents_of

HARMONY = Harmony(key_of("Eb", "dorian"), tuning="just", a4=442.0, shape="triad", chord_degree=5, octave=3, octaves=1)
PROGRAM = Program(curve=Curve(23.4567))


def again(*events: Event) -> tuple[Event, ...]:
    lines = [event_line(event) or "" for event in events]
    return judged_events(read_log("\n".join(lines)))


def test_a_harmony_comes_back_with_all_its_tones() -> None:
    (event,) = again(HarmonyChanged(3 * RATE, HARMONY, tones_of(HARMONY), sounding=True))
    assert isinstance(event, HarmonyChanged)
    assert (event.at, event.sounding, event.harmony.key) == (3 * RATE, True, HARMONY.key)
    assert [tone.hz for tone in event.tones] == [tone.hz for tone in tones_of(HARMONY)]


@given(st.sampled_from(["tonic", "common", "least"]), st.integers(0, 11))
def test_a_chord_that_moved_comes_back_as_it_was_tuned(rule: str, turns: int) -> None:
    progression = progression_of("I vi ii V7 I64", HARMONY.key)
    choice = next(one for one in CHOICES if one.name.startswith(rule))
    before = None
    for place in range(turns + 1):
        told = held(progression, place % len(progression.steps), HARMONY, choice, before)
        before = told.tuned
    moved = replace(HARMONY, held=told.chord, chord_degree=told.chord.root)
    (event,) = again(HarmonyChanged(RATE, moved, tones_of(moved), sounding=True))
    assert isinstance(event, HarmonyChanged)
    assert [tone.note for tone in event.tones] == [tone.note for tone in tones_of(moved)]
    for here, there in zip(event.tones, tones_of(moved), strict=True):
        assert abs(cents_of(here.hz / there.hz)) < 2e-6, "the log rounds what is no ratio to a millionth of a cent"
    assert targets_of(event.harmony)[4].cents == pytest.approx(targets_of(moved)[4].cents, abs=2e-6)


def test_a_tuning_of_ones_own_comes_back_without_its_file() -> None:
    own = own_tuning("hall", {4: "5/4", 7: "701 cents"})
    sounding = replace(HARMONY, tuning="hall", own=own)
    (event,) = again(HarmonyChanged(RATE, sounding, tones_of(sounding), sounding=True))
    assert isinstance(event, HarmonyChanged)
    assert [tone.hz for tone in event.tones] == [tone.hz for tone in tones_of(sounding)]
    line = str(event_line(HarmonyChanged(RATE, sounding, tones_of(sounding), sounding=True)))
    assert judged_events(read_log(line.replace('"5/4"', '"loud"'))) == ()


@given(st.recursive(st.none() | st.integers() | st.text(max_size=4), lambda inner: st.lists(inner, max_size=6)))
def test_a_damaged_chord_costs_its_line(rows: object) -> None:
    line = json.loads(str(event_line(HarmonyChanged(RATE, HARMONY, tones_of(HARMONY), sounding=True))))
    line["held"] = {"chord": "I", "root": 0, "members": rows, "voices": rows, "drift": 0.0}
    assert len(judged_events(read_log(json.dumps(line)))) <= 1


def test_a_pulse_comes_back_to_the_sample() -> None:
    start, stop = again(PulseChanged(RATE, 4, PROGRAM, 48_123.25), PulseChanged(9 * RATE, 4, None, 0.0))
    assert isinstance(start, PulseChanged)
    assert isinstance(stop, PulseChanged)
    assert start.program is not None
    assert (start.run, round(start.start, 6), stop.program) == (4, 48_123.25, None)
    assert start.program.beats(9)[1].time == PROGRAM.beats(9)[1].time


def test_settings_that_matter_come_as_steps_of_a_plan() -> None:
    begun = log_line(0.0, "rehearsal", settings={"reading": "clarinet", "tolerance": 8, "a4": 442.0})
    lines = [begun, event_line(SettingChanged(RATE, "tolerance", 3)), event_line(SettingChanged(RATE, "tempo", 90.0))]
    assert judged_events(read_log("\n".join(str(line) for line in lines))) == (
        PlanStepped(0, 0, "", (("reading", "clarinet"),)),
        PlanStepped(0, 0, "", (("tolerance", 8),)),
        PlanStepped(RATE, 0, "", (("tolerance", 3),)),
    )


def test_every_part_of_a_take_knows_where_it_begins() -> None:
    lines = [
        event_line(TakeStarted(9 * RATE, 2, RATE)),
        log_line(
            60.0,
            "take-saved",
            number=2,
            seconds=50.0,
            parts=[["r/take-02.flac", 30 * RATE], ["r/take-02-2.flac", RATE]],
        ),
        event_line(TakeSaved(RATE, 7, 5)),
        log_line(1.0, "take-started", number="x", first_s=1.0),
    ]
    assert take_starts(read_log("\n".join(str(line) for line in lines))) == {
        "take-02.flac": 1.0,
        "take-02-2.flac": 31.0,
    }


def test_a_pulse_without_its_time_is_passed_over() -> None:
    old = log_line(1.0, "pulse", on=True, tempo=92.0, to=92.0, meter="4/4", run=1, start="1.0", time=None)
    assert judged_events(read_log(old)) == ()


@given(
    st.dictionaries(
        st.sampled_from(["key", "tuning", "a4", "sounding", "on", "time", "start", "name", "value"]),
        st.none() | st.text(max_size=5) | st.floats() | st.lists(st.integers(), max_size=2),
    ),
    st.sampled_from(["harmony", "pulse", "setting", "rehearsal", "take-started", "take-saved"]),
)
def test_no_damage_raises(values: dict[str, object], what: str) -> None:
    line = json.dumps({"t": 1.0, "what": what, **values})
    good = event_line(HarmonyChanged(3 * RATE, HARMONY, tones_of(HARMONY), sounding=True)) or ""
    assert isinstance(judged_events(read_log(f"{line}\n{good}"))[-1], HarmonyChanged)
    assert isinstance(take_starts(read_log(line)), dict)
