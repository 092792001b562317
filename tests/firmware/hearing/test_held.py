"""Held notes: when they begin and end, their median, spread and settling."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.heard_events import NoteHeld
from firmware.hearing.held import HeldState, NamedReading, finish, settled_after, step
from firmware.units import RATE

HOP = 1920


def reading(at: int, note: str = "D4", cents: float = 0.0, beats: float | None = None) -> NamedReading:
    return NamedReading(at, 293.0, 0.9, "3", note, "E4", cents, beats)


def play(script: list[tuple[str | None, float]], tolerance: float = 5.0) -> list[NoteHeld]:
    """Feed one (note, cents) each 40 ms, None for nothing, and end."""
    state = HeldState()
    notes: list[NoteHeld] = []
    for index, (note, cents) in enumerate(script):
        at = index * HOP
        state, ended = step(state, at, None if note is None else reading(at, note, cents), tolerance)
        notes.extend(ended)
    _, ended = finish(state)
    return [*notes, *ended]


def test_a_note_is_gathered_with_its_median_and_spread():
    values = [10.0, 12.0, 14.0, 12.0, 11.0] * 5
    (note,) = play([("D4", cents) for cents in values])
    assert (note.start, note.at) == (0, 24 * HOP)
    assert (note.concert, note.written, note.degree) == ("D4", "E4", "3")
    assert note.median_cents == 12
    assert note.spread_cents == pytest.approx(1.4826)  # median of |2, 0, 2, 0, 1| is 1
    assert note.beats is None
    assert note.settled_after is None


def test_a_vibrato_is_spread_and_a_drift_is_unsteady():
    swing = [8.0 * math.sin(2 * math.pi * 5.5 * 0.04 * index) for index in range(75)]
    (vibrato,) = play([("D4", cents) for cents in swing])
    (drift,) = play([("D4", 0.2 * index) for index in range(75)])
    assert vibrato.spread_cents > 5
    assert vibrato.steadiness_cents is not None
    assert vibrato.steadiness_cents < 1.5
    assert drift.steadiness_cents == pytest.approx(drift.spread_cents, rel=0.15)
    assert drift.steadiness_cents > 4


def test_most_of_the_readings_say_whether_one_or_several_played():
    def noted(spreads: list[float | None]) -> NoteHeld:
        state = HeldState()
        for index, spread in enumerate(spreads):
            state, _ = step(state, index * HOP, replace(reading(index * HOP), spread=spread), 5.0)
        _, (note,) = finish(state)
        return note

    section = noted([None] * 8 + [6.0, 7.0, 8.0] * 6)
    assert (section.players, section.spread_cents) == ("several", 7.0)
    alone = noted([None] * 20 + [6.0])
    assert (alone.players, alone.spread_cents) == ("one", 0.0)


def test_a_short_note_is_not_judged():
    assert play([("D4", 0.0)] * 13) == []  # 12 steps of 40 ms are 0.48 s
    assert len(play([("D4", 0.0)] * 14)) == 1


def test_two_readings_in_a_row_do_not_begin_a_note():
    assert play([("D4", 0.0), ("D4", 0.0), (None, 0.0)] * 20) == []


def test_a_stray_reading_neither_ends_nor_begins_a_note():
    script = [("D4", 0.0)] * 10 + [("A5", 3.0)] + [("D4", 0.0)] * 10 + [(None, 0.0)] * 3 + [("D4", 0.0)] * 5
    (note,) = play(script)
    assert (note.start, note.at) == (0, 28 * HOP)
    assert note.concert == "D4"


def test_silence_for_longer_than_a_quarter_of_a_second_ends_a_note():
    assert len(play([("D4", 0.0)] * 20 + [(None, 0.0)] * 5 + [("D4", 0.0)] * 20)) == 1
    first, second = play([("D4", 0.0)] * 20 + [(None, 0.0)] * 6 + [("D4", 0.0)] * 20)
    assert first.at == 19 * HOP
    assert second.start == 26 * HOP


def test_another_note_ends_the_one_before():
    first, second = play([("D4", 1.0)] * 20 + [("E♭4", -2.0)] * 20)
    assert (first.concert, first.at) == ("D4", 19 * HOP)
    assert (second.concert, second.start) == ("E♭4", 20 * HOP)


def test_settling_is_timed_from_the_start_of_the_note():
    sliding = [("D4", 20.0 - index) for index in range(18)] + [("D4", 2.0)] * 30
    (note,) = play(sliding, tolerance=5.0)
    assert note.settled_after == pytest.approx(15 * 0.04)  # 20 - 15 = 5 cents
    (never,) = play([("D4", 20.0)] * 40)
    assert never.settled_after is None
    (at_once,) = play([("D4", 1.0)] * 40)
    assert at_once.settled_after == 0.0


def test_vibrato_within_reach_of_the_median_does_not_unsettle():
    wave = [0.0, 8.0, 5.0, -6.0, -8.0]
    (note,) = play([("D4", wave[index % 5]) for index in range(40)], tolerance=5.0)
    assert note.settled_after is not None


def test_beats_are_the_median_of_those_known():
    state = HeldState()
    for index in range(20):
        at = index * HOP
        state, _ = step(state, at, reading(at, beats=float(index % 3) if index % 2 else None), 5.0)
    _, (note,) = finish(state)
    assert note.beats == 1.0


def test_an_endless_note_is_reported_in_parts():
    notes = play([("D4", 0.0)] * (25 * 250))
    assert len(notes) == 3
    assert all(note.at - note.start <= 121 * RATE for note in notes)


def test_a_note_too_short_has_not_settled():
    assert settled_after((reading(0), reading(HOP)), 5.0) is None


@given(
    st.lists(
        st.tuples(st.sampled_from(["D4", "E4", None]), st.floats(-50, 50)),
        max_size=120,
    )
)
def test_notes_never_overlap_and_always_last(script: list[tuple[str | None, float]]):
    notes = play(script)
    for before, after in pairwise(notes):
        assert before.at < after.start
    for note in notes:
        assert note.at - note.start >= RATE // 2
        assert -50 <= note.median_cents <= 50
        assert note.spread_cents >= 0
