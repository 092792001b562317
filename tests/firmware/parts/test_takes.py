"""The takes part: start, stop, markers, the list, replay; every number in samples of the box's clock."""

from __future__ import annotations

from firmware.commands import CloseReplay, CloseTake, MicGain, OpenReplay, OpenTake
from firmware.events import (
    Adjusted,
    Event,
    Noticed,
    PlanStepped,
    PowerDown,
    SettingChanged,
    SwitchedOn,
    Tick,
    Wish,
    Wished,
)
from firmware.parts.part import Start, address_of
from firmware.parts.takes import BYTES_A_MINUTE, TAKES, TakesState
from firmware.take_events import ReplayEnded, StickChanged, TakeSaved, TakeStarted, TakeStopped
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


def replay(at: int) -> Wished:
    return Wished(at, Wish.REPLAY_TOGGLE)


def saved_take() -> TakesState:
    state, _ = run(take(10 * RATE), take(15 * RATE), TakeSaved(15 * RATE, 1, 13 * RATE))
    return state


def test_a_take_begins_before_the_key_and_ends_on_it() -> None:
    state, follow = run(take(20 * RATE))
    assert follow[:2] == [
        OpenTake(1, f"{FOLDER}/take-01.flac", 12 * RATE),
        TakeStarted(20 * RATE, 1, 12 * RATE),
    ]
    assert TAKES.show(state, 21 * RATE)["take_seconds"] == 9.0
    state, follow = run(take(25 * RATE), state=state)
    assert follow == [CloseTake(1, 25 * RATE), TakeStopped(25 * RATE, 1, 13.0, ())]
    assert not TAKES.show(state, 25 * RATE)["taking"]


def test_an_early_take_begins_with_the_first_sample() -> None:
    _, follow = run(take(2 * RATE))
    assert follow[0] == OpenTake(1, f"{FOLDER}/take-01.flac", 0)


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


def test_replay_opens_the_last_take_at_once() -> None:
    state, follow = run(replay(16 * RATE), state=saved_take())
    assert follow == [OpenReplay(f"{FOLDER}/take-01.flac", 0, 1)]
    sound = TAKES.sound(state)["replay"]
    assert (sound.on, sound.token) == (True, 1)
    assert TAKES.show(state, 18 * RATE)["replay_seconds"] == 2.0
    state, follow = run(replay(19 * RATE), state=state)
    assert follow == [CloseReplay()]
    assert not TAKES.sound(state)["replay"].on


def test_replay_ends_with_the_take() -> None:
    state, _ = run(replay(16 * RATE), ReplayEnded(29 * RATE), state=saved_take())
    assert TAKES.show(state, 29 * RATE)["replaying"] == 0
    assert run(ReplayEnded(30 * RATE), state=state)[1] == []
    state, follow = run(replay(16 * RATE), Tick(29 * RATE - 1), state=saved_take())
    assert len(follow) == 1
    assert run(Tick(29 * RATE), state=state)[1] == [CloseReplay()]


def test_replay_while_recording_stops_the_take_and_waits_until_it_is_safe() -> None:
    state, follow = run(take(10 * RATE), replay(12 * RATE))
    assert isinstance(follow[-1], TakeStopped)
    state, follow = run(replay(12 * RATE + 5), state=state)
    assert follow == []
    _, follow = run(TakeSaved(12 * RATE + 99, 1, 10 * RATE), state=state)
    assert follow[-1] == OpenReplay(f"{FOLDER}/take-01.flac", 0, 1)


def test_a_take_ends_the_replay() -> None:
    _, follow = run(replay(16 * RATE), take(17 * RATE), state=saved_take())
    assert follow[1] == CloseReplay()


def test_nothing_to_replay() -> None:
    _, follow = run(replay(0))
    assert follow == [Noticed(0, "nothing-to-replay")]


def test_the_knob_moves_within_the_take() -> None:
    state, _ = run(replay(16 * RATE), state=saved_take())
    state, follow = run(Adjusted(18 * RATE, "replay_place", 2), state=state)
    assert follow == [OpenReplay(f"{FOLDER}/take-01.flac", 6 * RATE, 2)]
    state, follow = run(Adjusted(18 * RATE, "replay_place", -100), state=state)
    assert follow == [OpenReplay(f"{FOLDER}/take-01.flac", 0, 3)]
    state, follow = run(Adjusted(18 * RATE, "replay_place", 100), state=state)
    assert follow == [OpenReplay(f"{FOLDER}/take-01.flac", 12 * RATE, 4)]
    assert run(Adjusted(0, "replay_place", 1)) == (TAKES.start(HERE), [])


def test_the_list_is_chosen_from() -> None:
    state, _ = run(take(20 * RATE), take(21 * RATE), TakeSaved(21 * RATE, 2, RATE), state=saved_take())
    assert [line.number for line in TAKES.show(state, 0)["takes"]] == [1, 2]
    assert state.chosen == 2
    state, _ = run(Adjusted(0, "chosen_take", -1), state=state)
    assert state.chosen == 1
    state, _ = run(Adjusted(0, "chosen_take", -1), state=state)
    assert state.chosen == 1
    assert run(Adjusted(0, "chosen_take", 1))[0].chosen == 0


def test_a_take_that_nobody_stopped_is_not_listed() -> None:
    state, follow = run(TakeSaved(0, 9, 100))
    assert (state.saved, follow) == ((), [])


def test_gain_reaches_the_microphone() -> None:
    _, follow = run(SwitchedOn(0), Adjusted(1, "mic_gain", 3), Adjusted(2, "preroll", 1))
    assert follow == [
        MicGain(0.0),
        SettingChanged(1, "mic_gain", 3.0),
        MicGain(3.0),
        SettingChanged(2, "preroll", 9),
    ]
