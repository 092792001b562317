"""The rests part: which rests are told, and what makes it begin afresh."""

from __future__ import annotations

from firmware.events import Adjusted, Event, HarmonyChanged, PulseChanged, SettingChanged
from firmware.heard_events import LevelRead
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.parts.part import Start, address_of
from firmware.parts.rests import RESTS, SPAN, RestsState
from firmware.passage import Passage
from firmware.take_events import MusicResumed, ReplayStarted, ReplayStopped
from firmware.takes.rests import RestState
from firmware.units import RATE

HARMONY = Harmony(key=key_of("Bb", "major"), tuning="just", a4=440.0)


def run(*events: Event, state: RestsState | None = None) -> tuple[RestsState, list[object]]:
    state = state or RESTS.start(Start())
    follow: list[object] = []
    for event in events:
        state, more = RESTS.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def levels(begin: float, seconds: float, db: float) -> list[LevelRead]:
    first = round(10 * begin)
    return [LevelRead((first + n + 1) * SPAN, db + 10, db, clipped=False) for n in range(round(10 * seconds))]


def music(rest: float) -> list[LevelRead]:
    return [*levels(0, 4, -60.0), *levels(4, 10, -25.0), *levels(14, rest, -60.0), *levels(14 + rest, 3, -25.0)]


def test_a_rest_of_five_seconds_is_told_and_a_shorter_one_is_not() -> None:
    _, follow = run(*music(6.0))
    assert follow == [MusicResumed(round(20.5 * RATE), 20 * RATE, 6.0)]
    assert run(*music(4.0))[1] == []


def test_how_long_a_rest_must_be_is_set() -> None:
    state, follow = run(Adjusted(0, "rest_markers", 5))
    assert follow == [SettingChanged(0, "rest_markers", 10)]
    assert run(*music(8.0), state=state)[1] == []
    state, _ = run(Adjusted(0, "rest_markers", -5))
    assert run(*music(30.0), state=state)[1] == []


def test_when_the_box_sounds_otherwise_the_floor_is_learned_afresh() -> None:
    state, _ = run(*levels(0, 4, -60.0))
    assert state.heard != RestState()
    assert run(HarmonyChanged(0, HARMONY, (), sounding=False), state=state)[0] == state
    sounding, _ = run(HarmonyChanged(0, HARMONY, (), sounding=True), state=state)
    assert sounding.heard == RestState()
    assert run(HarmonyChanged(0, HARMONY, (), sounding=False), state=sounding)[0].sounding is False
    assert run(PulseChanged(0, 1, None, 0.0), state=state)[0].heard == RestState()


def test_a_replay_is_no_music() -> None:
    state, _ = run(*levels(0, 9, -60.0), ReplayStarted(0, 1, 0, Passage()))
    state, follow = run(*levels(9, 5, -20.0), state=state)
    assert follow == []
    assert run(ReplayStopped(0), state=state)[0].heard == RestState()
