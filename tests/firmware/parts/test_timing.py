"""Onsets and the pulse in, bars and the whole out."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.box import Box
from firmware.commands import AppendLine, WriteText
from firmware.events import Event, PowerDown, PulseChanged, Tick, Wish, Wished
from firmware.heard_events import BarTimed, Onset, OnsetPlaced, PulseTimed
from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.parts.part import Follow, Start
from firmware.parts.timing import TIMING, TimingState
from firmware.units import RATE

BEAT = 0.5
COMMON = Program(curve=Curve(30.0))
LATE = 2208


def run(events: list[Event]) -> tuple[TimingState, list[Follow]]:
    """State and all that follows, with a tick every twentieth of a second between the events."""
    state, told = TIMING.start(Start()), list[Follow]()
    last = max(event.at for event in events)
    ticks: list[Event] = [Tick(at) for at in range(0, last + 1, RATE // 20)]
    for event in sorted([*events, *ticks], key=lambda one: one.at):
        state, follow = TIMING.handlers[type(event)](state, event)
        told += follow
    return state, told


def played(beats: np.ndarray, start: int = RATE) -> list[Event]:
    """Onsets at these beats, heard later by the way through the room."""
    return [Onset(start + round(beat * BEAT * RATE) + LATE, -20.0, LATE) for beat in beats]


def test_every_bar_is_told_with_its_notes():
    _, told = run([PulseChanged(RATE, 1, COMMON, float(RATE)), *played(np.arange(12) + 0.02), Tick(9 * RATE)])
    bars = [one for one in told if isinstance(one, BarTimed)]
    assert [one.bar for one in bars] == [1, 2, 3]
    assert [beat for beat, _ in bars[0].notes] == ["1", "2", "3", "4"]
    assert all(ms == pytest.approx(10.0, abs=0.1) for one in bars for _, ms in one.notes)
    assert bars[1].median_ms == pytest.approx(10.0, abs=0.1)
    assert bars[1].spread_ms == pytest.approx(0.0, abs=0.1)


def test_every_onset_is_placed_at_once():
    _, told = run([PulseChanged(RATE, 1, COMMON, float(RATE)), *played(np.arange(6) + 0.02), Tick(5 * RATE)])
    placed = [one for one in told if isinstance(one, OnsetPlaced)]
    assert [(one.bar, one.beat) for one in placed] == [(1, "1"), (1, "2"), (1, "3"), (1, "4"), (2, "1"), (2, "2")]
    assert all(one.late_ms == pytest.approx(10.0, abs=0.1) for one in placed)


def test_the_last_bar_is_shown_until_one_is_empty():
    begun = PulseChanged(RATE, 1, COMMON, float(RATE))
    state, _ = run([begun, *played(np.arange(4) - 0.03), Tick(round(4.5 * RATE))])
    assert TIMING.show(state, 0) == {"lateness_ms": pytest.approx(-15.0, abs=0.1)}
    state, _ = run([begun, *played(np.arange(4) - 0.03), Tick(7 * RATE)])
    assert TIMING.show(state, 0) == {"lateness_ms": None}


def test_when_the_pulse_stops_the_whole_is_told_once():
    stop = RATE + 16 * RATE
    events = [PulseChanged(RATE, 1, COMMON, float(RATE)), *played(np.arange(0, 24, 0.5) / 1.01)]
    state, told = run([*events, PulseChanged(stop, 1, None, 0.0), Tick(stop + 3 * RATE)])
    (whole,) = [one for one in told if isinstance(one, PulseTimed)]
    assert (whole.start, whole.first_bar, whole.last_bar, whole.count) == (RATE, 1, 6, 48)
    assert whole.drift_percent == pytest.approx(1.0, abs=0.02)
    assert {beat for beat, _, _ in whole.beats} == {"1", "1 1/2", "2", "2 1/2", "3", "3 1/2", "4", "4 1/2"}
    assert state == TimingState(run=1)


def test_a_new_start_and_the_end_of_the_rehearsal_close_a_run():
    again = 10 * RATE
    events = [
        PulseChanged(RATE, 1, COMMON, float(RATE)),
        *played(np.arange(8)),
        PulseChanged(again, 2, COMMON, float(again)),
        *played(np.arange(8), again),
        PowerDown(again + 8 * RATE),
    ]
    _, told = run(events)
    wholes = [one for one in told if isinstance(one, PulseTimed)]
    assert [(one.start, one.count) for one in wholes] == [(RATE, 8), (again, 8)]


def test_a_change_of_tempo_within_a_run_goes_on():
    faster = Program(curve=Curve(60.0))
    change = RATE + 3 * RATE
    events = [PulseChanged(RATE, 1, COMMON, float(RATE)), *played(np.arange(6)), PulseChanged(change, 1, faster, 5.0)]
    state, told = run(events)
    assert (state.program, state.start, len(state.times)) == (faster, 5.0, 6)
    assert not [one for one in told if isinstance(one, PulseTimed)]


def test_silent_bars_are_told_with_the_players_tempo():
    silent = Program(curve=Curve(30.0), heard=2, silent=2)
    stop = 12 * RATE
    events = [
        PulseChanged(RATE, 1, silent, float(RATE)),
        *played(np.concatenate([np.arange(8), 8 + np.arange(8) / 1.02])),
    ]
    _, told = run([*events, PulseChanged(stop, 1, None, 0.0), Tick(stop + 2 * RATE)])
    (whole,) = [one for one in told if isinstance(one, PulseTimed)]
    ((first, last, percent),) = whole.free
    assert (first, last) == (3, 4)
    assert percent == pytest.approx(2.0, abs=0.1)


def test_onsets_without_a_pulse_before_it_or_out_of_order_are_passed_over():
    state, told = run(
        [Onset(RATE, -20.0), PulseChanged(5 * RATE, 1, COMMON, 5.0 * RATE), Onset(5 * RATE, -20.0, 2 * RATE)]
    )
    assert state.times == ()
    assert told == []
    state, _ = TIMING.handlers[Onset](state, Onset(6 * RATE, -20.0))
    state, _ = TIMING.handlers[Onset](state, Onset(6 * RATE, -20.0))
    assert len(state.times) == 1


def test_a_few_onsets_are_nothing_to_tell():
    _, told = run([PulseChanged(RATE, 1, COMMON, float(RATE)), *played(np.arange(3)), PowerDown(8 * RATE)])
    assert not [one for one in told if isinstance(one, PulseTimed)]


def test_the_box_writes_bars_and_the_whole_to_log_table_and_sheet():
    box = Box(Start(stick=True))
    written: list[AppendLine | WriteText] = []
    box.handle(Wished(RATE, Wish.PULSE_TOGGLE))
    for at in range(RATE, 8 * RATE, RATE // 20):
        events: list[Event] = [Tick(at)]
        if (at - RATE) % (RATE // 2) == 0:
            events.append(Onset(at, -20.0))
        written += [one for event in events for one in box.handle(event) if isinstance(one, AppendLine | WriteText)]
    written += [one for one in box.handle(PowerDown(8 * RATE)) if isinstance(one, AppendLine | WriteText)]
    lines = [(one.path.rsplit("/", 1)[-1], one.line) for one in written if isinstance(one, AppendLine)]
    assert next(line for name, line in lines if name == "timing.csv") == "bar,beat,late_ms"
    assert any('"what": "bar"' in line for name, line in lines if name == "log.jsonl")
    assert any('"what": "timing"' in line for name, line in lines if name == "log.jsonl")
    (sheet,) = [one.text for one in written if isinstance(one, WriteText) and one.path.endswith("sheet.html")]
    assert "Timing against the pulse" in sheet
