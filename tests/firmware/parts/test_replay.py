"""The replay part: the list, the place, loops between markers, speed, level, and what the ear is told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firmware.commands import CloseReplay, DeleteTakes, HearReplay, OpenReplay
from firmware.events import Adjusted, Event, Noticed, SettingChanged, Tick, Wish, Wished
from firmware.parts.part import Start, address_of
from firmware.parts.replay import GRAIN, REPLAY, ReplayState
from firmware.passage import Passage
from firmware.room_events import RoomChecked
from firmware.take_events import (
    DeletionWished,
    ReplayEnded,
    ReplayStarted,
    ReplayStopped,
    TakeMeasured,
    TakeSaved,
    TakesDeleted,
    TakeStarted,
    TakeStopped,
)
from firmware.units import RATE

FOLDER = "rehearsals/0007"
HERE = Start(number=7, stick=True)
ONE = f"{FOLDER}/take-01.flac"


def run(*events: Event, state: ReplayState | None = None) -> tuple[ReplayState, list[object]]:
    state = state or REPLAY.start(HERE)
    follow: list[object] = []
    for event in events:
        state, more = REPLAY.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def replay(at: int) -> Wished:
    return Wished(at, Wish.REPLAY_TOGGLE)


def saved_take(*markers: float, number: int = 1, state: ReplayState | None = None) -> ReplayState:
    """A take of 13 s that began on second 2 of the clock."""
    marked = tuple((at, f"Marker {at}") for at in markers)
    state, _ = run(
        TakeStarted(10 * RATE, number, 2 * RATE),
        TakeStopped(15 * RATE, number, 13.0, marked),
        TakeSaved(15 * RATE, number, 13 * RATE),
        state=state,
    )
    return state


def opened(follow: list[object]) -> OpenReplay:
    (command,) = (one for one in follow if isinstance(one, OpenReplay))
    return command


def shown(state: ReplayState, at: int = 0) -> dict[str, object]:
    return REPLAY.show(state, at)


def test_replay_opens_the_last_take_at_once() -> None:
    state, follow = run(replay(16 * RATE), state=saved_take())
    assert follow == [
        OpenReplay(ONE, 1, Passage()),
        HearReplay(on=False),
        ReplayStarted(16 * RATE, 1, 2 * RATE, Passage()),
    ]
    sound = REPLAY.sound(state)["replay"]
    assert (sound.on, sound.token) == (True, 1)
    assert shown(state, 18 * RATE)["replay_seconds"] == 2.0
    state, follow = run(replay(19 * RATE), state=state)
    assert follow == [CloseReplay(), HearReplay(on=False), ReplayStopped(19 * RATE)]
    assert not REPLAY.sound(state)["replay"].on


def test_replay_ends_with_the_take() -> None:
    state, _ = run(replay(16 * RATE), ReplayEnded(29 * RATE, 1), state=saved_take())
    assert shown(state, 29 * RATE)["replaying"] == 0
    assert run(ReplayEnded(30 * RATE), state=state)[1] == []
    state, follow = run(replay(16 * RATE), Tick(29 * RATE - 1), state=saved_take())
    assert CloseReplay() not in follow
    assert run(Tick(29 * RATE), state=state)[1][0] == CloseReplay()


def test_the_end_of_an_old_replay_does_not_end_a_new_one() -> None:
    state, _ = run(replay(16 * RATE), replay(17 * RATE), replay(18 * RATE), state=saved_take())
    assert run(ReplayEnded(18 * RATE, 1), state=state) == (state, [])


def test_replay_while_recording_waits_until_the_take_is_safe() -> None:
    state, follow = run(TakeStarted(10 * RATE, 1, 2 * RATE), replay(12 * RATE))
    assert follow == []
    state, follow = run(TakeStopped(12 * RATE, 1, 10.0, ()), replay(12 * RATE + 5), state=state)
    assert follow == []
    _, follow = run(TakeSaved(12 * RATE + 99, 1, 10 * RATE), state=state)
    assert opened(follow) == OpenReplay(ONE, 1, Passage())


def test_a_take_ends_the_replay() -> None:
    _, follow = run(replay(16 * RATE), TakeStarted(17 * RATE, 2, 9 * RATE), state=saved_take())
    assert CloseReplay() in follow


def test_nothing_to_replay() -> None:
    assert run(replay(0))[1] == [Noticed(0, "nothing-to-replay")]
    state, follow = run(TakeSaved(0, 9, 100))
    assert (state.saved, follow) == ((), [])
    for field in ("chosen_take", "loop_from", "loop_to", "replay_place"):
        assert run(Adjusted(0, field, 1)) == (REPLAY.start(HERE), [])


@pytest.mark.parametrize(("steps", "second"), [(2, 6), (-100, 0), (100, 12)])
def test_the_knob_moves_within_the_take_that_is_heard(steps: int, second: int) -> None:
    state, _ = run(replay(16 * RATE), state=saved_take())
    state, follow = run(Adjusted(18 * RATE, "replay_place", steps), state=state)
    assert opened(follow) == OpenReplay(ONE, 2, Passage(second * RATE))
    assert shown(state, 18 * RATE)["replay_seconds"] == second


def test_while_nothing_is_heard_every_place_sounds_for_a_moment_and_replay_goes_on_from_there() -> None:
    state, follow = run(Adjusted(0, "replay_place", 1), state=saved_take())
    assert follow == [OpenReplay(ONE, 1, Passage(2 * RATE, count=GRAIN))]
    state, follow = run(Adjusted(5, "replay_place", 1), state=state)
    assert follow == [OpenReplay(ONE, 2, Passage(4 * RATE, count=GRAIN))]
    assert shown(state, 5)["replay_seconds"] == 4.0
    state, follow = run(ReplayEnded(GRAIN, 2), state=state)
    assert follow == [CloseReplay()]
    state, follow = run(replay(RATE), state=state)
    assert opened(follow).passage == Passage(4 * RATE)
    _, follow = run(replay(2 * RATE), replay(3 * RATE), state=state)
    assert opened(follow).passage == Passage()


def test_replay_during_a_grain_plays_on() -> None:
    _, follow = run(Adjusted(0, "replay_place", 3), replay(100), state=saved_take())
    assert follow[1] == OpenReplay(ONE, 2, Passage(6 * RATE))


def test_the_list_is_chosen_from() -> None:
    state = saved_take(number=2, state=saved_take(3.0))
    assert [(line.number, line.markers) for line in shown(state)["takes"]] == [(1, 1), (2, 0)]
    assert state.chosen == 2
    state, _ = run(Adjusted(0, "replay_place", 1), Adjusted(0, "chosen_take", -1), state=state)
    assert (state.chosen, state.place) == (1, 0)
    assert run(Adjusted(0, "chosen_take", -1), state=state)[0].chosen == 1
    assert run(Adjusted(0, "chosen_take", 9), state=state)[0].chosen == 2


def test_a_loop_goes_from_marker_to_marker() -> None:
    state = saved_take(9.0, 4.0)
    state, _ = run(Adjusted(0, "loop_from", 2), state=state)
    assert shown(state)["loop"] == ("1", "2")
    state, follow = run(replay(RATE), state=state)
    passage = opened(follow).passage
    assert passage == Passage(4 * RATE, 1.0, 4 * RATE, 9 * RATE)
    assert shown(state, RATE + 7 * RATE)["replay_seconds"] == 6.0
    assert run(Tick(99 * RATE), state=state)[1] == []
    state, follow = run(Adjusted(3 * RATE, "loop_to", 1), state=state)
    assert shown(state)["loop"] == ("1", "end")
    assert opened(follow).passage == Passage(6 * RATE, 1.0, 4 * RATE, 13 * RATE)
    state, follow = run(Adjusted(3 * RATE, "loop_from", -1), state=state)
    assert shown(state)["loop"] == ("start", "end")
    state, follow = run(Adjusted(3 * RATE, "loop_from", -1), state=state)
    assert shown(state)["loop"] == ("", "")
    assert opened(follow).passage == Passage(6 * RATE)


def test_the_knob_stays_within_the_points_of_a_take() -> None:
    state, _ = run(Adjusted(0, "loop_to", 1), state=saved_take(4.0))
    assert state.loop is None
    state, _ = run(Adjusted(0, "loop_from", 99), state=state)
    assert state.loop == (1, 2)
    state, _ = run(Adjusted(0, "loop_to", -99), state=state)
    assert state.loop == (1, 2)
    state, _ = run(Adjusted(0, "loop_from", -1), Adjusted(0, "loop_to", -1), state=state)
    assert state.loop == (0, 1)
    assert saved_take(0.1, 5.0, 5.1, 12.9).saved[0].points == (0, 5 * RATE, 13 * RATE)


def test_another_take_has_no_loop_yet() -> None:
    state, _ = run(Adjusted(0, "loop_from", 1), state=saved_take(4.0))
    assert saved_take(number=2, state=state).loop is None


def test_a_loop_of_another_take_leaves_the_one_that_is_heard_alone() -> None:
    state = saved_take(number=2, state=saved_take(3.0))
    state, _ = run(replay(20 * RATE), Adjusted(21 * RATE, "chosen_take", -1), state=state)
    state, follow = run(Adjusted(21 * RATE, "loop_from", 1), state=state)
    assert follow == []


def test_slower_goes_on_at_the_same_place() -> None:
    state, _ = run(replay(16 * RATE), state=saved_take())
    state, follow = run(Adjusted(18 * RATE, "replay_speed", -10), state=state)
    assert opened(follow).passage == Passage(2 * RATE, 0.5)
    assert shown(state, 20 * RATE)["replay_seconds"] == 3.0
    assert shown(state)["replay_speed"] == 50
    assert run(Adjusted(18 * RATE, "replay_speed", -1), state=state) == (state, [])
    _, follow = run(Adjusted(20 * RATE, "replay_speed", 3), state=state)
    assert opened(follow).passage == Passage(3 * RATE, 0.65)


def test_takes_are_replayed_equally_loud() -> None:
    state, _ = run(TakeMeasured(0, 1, -33.0, 0.05), replay(16 * RATE), state=saved_take())
    assert REPLAY.sound(state)["replay"].level_db == 13.0
    state, follow = run(Adjusted(0, "replay_level", -2), state=state)
    assert follow[0] == SettingChanged(0, "replay_level", -22.0)
    assert REPLAY.sound(state)["replay"].level_db == 11.0
    assert REPLAY.sound(saved_take())["replay"].level_db == 0.0


def test_a_take_can_come_back_as_loud_as_it_was() -> None:
    checked = RoomChecked(0, -18.0, 20.0, 0.5, -60.0, 0.0, 0.0, -40.0, clipped=False, removal_db=30.0)
    state, _ = run(
        TakeMeasured(0, 1, -33.0, 0.05), checked, Adjusted(0, "replay_match", 1), replay(16 * RATE), state=saved_take()
    )
    assert REPLAY.sound(state)["replay"].level_db == 18.0


def test_the_ear_is_told_to_hear_the_replay() -> None:
    state, _ = run(replay(16 * RATE), state=saved_take())
    state, follow = run(Adjusted(18 * RATE, "ear_hears", 1), state=state)
    assert follow[0] == SettingChanged(18 * RATE, "ear_hears", "replay")
    assert HearReplay(on=True) in follow
    assert ReplayStarted(18 * RATE, 1, 2 * RATE, Passage(2 * RATE), heard=True) in follow
    _, follow = run(replay(19 * RATE), state=state)
    assert follow[1] == HearReplay(on=False)


def test_a_chosen_take_that_is_gone_is_not_played() -> None:
    state = replace(saved_take(), chosen=5)
    assert run(replay(0), state=state) == (state, [])


def test_a_take_is_deleted_when_it_is_safe_and_the_one_before_is_chosen() -> None:
    state = saved_take(number=2, state=saved_take())
    busy, _ = run(TakeStarted(20 * RATE, 3, 12 * RATE), state=state)
    assert run(DeletionWished(21 * RATE, everything=False), state=busy)[1] == [Noticed(21 * RATE, "delete-waits")]
    state, follow = run(replay(20 * RATE), DeletionWished(21 * RATE, everything=False), state=state)
    assert follow[-1] == DeleteTakes(FOLDER, 2)
    assert CloseReplay() in follow
    state, _ = run(TakesDeleted(22 * RATE, 2, 1), state=state)
    assert ([take.number for take in state.saved], state.chosen) == ([1], 1)
    state, follow = run(DeletionWished(23 * RATE, everything=True), state=state)
    assert follow == [DeleteTakes()]
    state, _ = run(TakesDeleted(24 * RATE, 0, 1), state=state)
    assert (state.saved, state.chosen) == ((), 0)
    assert run(DeletionWished(25 * RATE, everything=False), state=state)[1] == [Noticed(25 * RATE, "nothing-to-delete")]
