"""The takes part: start, stop, markers; every number in samples of the box's clock."""

from __future__ import annotations

from firmware.commands import AppendLine, CloseTake, MicGain, OpenTake
from firmware.events import (
    Adjusted,
    Event,
    Fault,
    Noticed,
    PlanStepped,
    PowerDown,
    SettingChanged,
    SwitchedOn,
    Wish,
    Wished,
)
from firmware.heard_events import LevelRead
from firmware.parts.part import Start, address_of
from firmware.parts.takes import BYTES_A_MINUTE, TAKES, TakesState
from firmware.take_events import MusicResumed, StickChanged, TakeSaved, TakeStarted, TakeStopped
from firmware.units import RATE

FOLDER = "rehearsals/0007"
HERE = Start(number=7, stick=True)


def run(*events: Event, state: TakesState | None = None) -> tuple[TakesState, list[object]]:
    state = state or TAKES.start(HERE)
    follow: list[object] = []
    for event in events:
        state, more = TAKES.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def take(at: int) -> Wished:
    return Wished(at, Wish.TAKE_TOGGLE)


def test_a_take_begins_before_the_key_and_ends_on_it() -> None:
    state, follow = run(take(20 * RATE))
    assert follow[:2] == [
        OpenTake(1, f"{FOLDER}/take-01.flac", 12 * RATE, 1, 3600 * RATE),
        TakeStarted(20 * RATE, 1, 12 * RATE),
    ]
    assert TAKES.show(state, 21 * RATE)["take_seconds"] == 9.0
    state, follow = run(take(25 * RATE), state=state)
    assert follow == [CloseTake(1, 25 * RATE), TakeStopped(25 * RATE, 1, 13.0, ())]
    assert not TAKES.show(state, 25 * RATE)["taking"]


def test_an_early_take_begins_with_the_first_sample() -> None:
    _, follow = run(take(2 * RATE))
    assert follow[0] == OpenTake(1, f"{FOLDER}/take-01.flac", 0, 1, 3600 * RATE)


def test_the_boxs_own_sound_is_recorded_when_that_is_set() -> None:
    state, _ = run(Adjusted(0, "take_source", 1), Adjusted(0, "take_part_minutes", 180))
    state, follow = run(take(20 * RATE), StickChanged(0, present=True, free_bytes=60 * BYTES_A_MINUTE), state=state)
    opened = follow[0]
    assert isinstance(opened, OpenTake)
    assert (opened.channels, opened.part_samples) == (2, 240 * 60 * RATE)
    assert TAKES.show(state, 0)["free_minutes"] == 30


def clip(at: int, *, clipped: bool = True) -> LevelRead:
    return LevelRead(at, 0.0, -10.0, clipped)


def test_clipping_is_marked_once_for_a_passage() -> None:
    begun = 20 * RATE
    clips = [clip(begun + second * RATE) for second in (1, 2, 11, 22)]
    state, follow = run(take(begun), clip(11 * RATE), clip(begun + 5, clipped=False), *clips)
    assert state.running is not None
    assert state.running.markers == ((8.9, "Clipping"), (29.9, "Clipping"))
    assert [one.message for one in follow if isinstance(one, Noticed)] == ["take-started", "clipping", "clipping"]
    assert run(clip(5 * RATE))[1] == [], "without a take there is nothing to mark"


def test_the_last_ten_minutes_of_room_are_told_step_by_step() -> None:
    told, lines = [], []
    state = None
    for minutes in (60, 11, 10, 9, 8, 5, 6, 5, 3, 2, 1, 0, 60, 4):
        changed = StickChanged(0, present=True, free_bytes=minutes * BYTES_A_MINUTE + 5)
        state, follow = run(changed, state=state)
        told += [dict(one.values)["minutes"] for one in follow if isinstance(one, Noticed)]
        lines += [one.line for one in follow if isinstance(one, AppendLine) and one.path == "report.txt"]
    assert told == ["10", "5", "5", "2", "1", "4"]
    assert [line.rpartition("room for ")[2] for line in lines] == [f"{minutes} min." for minutes in told]
    assert run(StickChanged(0, present=False))[1] == []


def test_a_take_that_there_is_no_room_for_anywhere_ends() -> None:
    state, _ = run(take(20 * RATE), Fault(21 * RATE, "stick-out"))
    assert state.running is not None
    state, follow = run(Fault(22 * RATE, "spool-full"), state=state)
    assert state.running is None
    assert CloseTake(1, 22 * RATE) in follow


def test_markers_count_from_the_first_sample_of_the_take() -> None:
    state, _ = run(take(10 * RATE), Wished(12 * RATE, Wish.MARKER_DROP), PlanStepped(13 * RATE, 2, "Chorale", ()))
    state, _ = run(PlanStepped(14 * RATE, 3, "Coda", (), marker="Ending"), state=state)
    assert TAKES.show(state, 14 * RATE)["markers"] == 3
    _, follow = run(PowerDown(15 * RATE), state=state)
    markers = ((10.0, "Marker 1"), (11.0, "Chorale"), (12.0, "Ending"))
    assert follow[1] == TakeStopped(15 * RATE, 1, 13.0, markers)


def test_a_plan_step_starts_a_take_or_stops_it() -> None:
    begin, end = (PlanStepped(at * RATE, 1, "Chorale", (), take=take) for at, take in ((10, True), (20, False)))
    state, follow = run(begin)
    assert isinstance(follow[0], OpenTake)
    assert state.running is not None
    assert state.running.markers == ((8.0, "Chorale"),)
    assert run(begin, state=state)[1] == []
    state, follow = run(end, state=state)
    assert isinstance(follow[0], CloseTake)
    assert run(end, state=state) == (state, [])


def test_a_marker_without_a_take_says_so() -> None:
    state, follow = run(Wished(5, Wish.MARKER_DROP), PlanStepped(6, 1, "Warm-up", ()), PowerDown(7))
    assert follow == [Noticed(5, "no-take")]
    assert state.count == 0


def test_without_a_stick_there_is_no_take() -> None:
    state, follow = run(StickChanged(0, present=False), take(5))
    assert follow == [Noticed(5, "stick-missing")]
    assert state.running is None
    state, _ = run(StickChanged(6, present=True, free_bytes=9 * BYTES_A_MINUTE), state=state)
    assert TAKES.show(state, 7)["free_minutes"] == 9


def test_replay_while_recording_stops_the_take() -> None:
    state, follow = run(take(10 * RATE), Wished(12 * RATE, Wish.REPLAY_TOGGLE))
    assert follow[-1] == TakeStopped(12 * RATE, 1, 10.0, ())
    assert run(Wished(13 * RATE, Wish.REPLAY_TOGGLE), state=state)[1] == []


def test_music_after_a_long_rest_is_marked_where_it_began() -> None:
    state, _ = run(take(10 * RATE), MusicResumed(20 * RATE, 19 * RATE, 6.8))
    assert state.running is not None
    assert state.running.markers == ((17.0, "After 7 s of rest"),)
    assert run(MusicResumed(20 * RATE, 19 * RATE, 6.8))[1] == []


def test_a_saved_take_is_told_once() -> None:
    state, _ = run(take(10 * RATE), take(15 * RATE))
    state, follow = run(TakeSaved(15 * RATE, 1, 13 * RATE), state=state)
    assert follow == [Noticed(15 * RATE, "take-saved", (("number", "1"),))]
    assert run(TakeSaved(15 * RATE, 1, 13 * RATE), state=state) == (state, [])


def test_a_take_that_nobody_stopped_is_not_told() -> None:
    state, follow = run(TakeSaved(0, 9, 100))
    assert (state.stopped, follow) == ((), [])


def test_gain_reaches_the_microphone() -> None:
    _, follow = run(SwitchedOn(0), Adjusted(1, "mic_gain", 3), Adjusted(2, "preroll", 1))
    assert follow == [
        MicGain(0.0),
        SettingChanged(1, "mic_gain", 3.0),
        MicGain(3.0),
        SettingChanged(2, "preroll", 9),
    ]
