"""The screen rests after a while untouched and wakes at any press; its brightness is set."""

from __future__ import annotations

import pytest

from firmware.commands import Dim
from firmware.events import (
    Adjusted,
    Event,
    KeyDown,
    KnobDown,
    KnobTurn,
    Noticed,
    PanelKey,
    Pedal,
    PedalDown,
    SettingChanged,
    SwitchedOn,
    Tick,
)
from firmware.keyboard_events import NoteOn
from firmware.parts.light import LIGHT, LightState
from firmware.parts.part import Follow, Start, address_of
from firmware.settings import DEFAULTS
from firmware.units import RATE

MINUTE = 60 * RATE


def run(*events: Event, state: LightState | None = None) -> tuple[LightState, list[Follow]]:
    state = state or LIGHT.start(Start())
    follow: list[Follow] = []
    for event in events:
        state, more = LIGHT.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def test_it_begins_as_bright_as_it_is_set() -> None:
    assert run(SwitchedOn(0))[1] == [Dim(3)]


def test_the_brightness_reaches_the_screen() -> None:
    _, follow = run(Adjusted(0, "brightness", 1), Adjusted(1, "brightness", 9))
    assert follow == [SettingChanged(0, "brightness", 4), Dim(4), SettingChanged(1, "brightness", 5), Dim(5)]


def test_it_rests_once_after_ten_minutes_and_not_before() -> None:
    assert run(SwitchedOn(0), Tick(10 * MINUTE - 1))[1] == [Dim(3)]
    assert run(SwitchedOn(0), Tick(10 * MINUTE), Tick(11 * MINUTE))[1] == [Dim(3), Dim(1)]


@pytest.mark.parametrize(
    "touch",
    [
        KeyDown(11 * MINUTE, PanelKey.EAR),
        KnobTurn(11 * MINUTE, 1),
        KnobDown(11 * MINUTE),
        PedalDown(11 * MINUTE, Pedal.LEFT),
        NoteOn(11 * MINUTE, 60),
        Noticed(11 * MINUTE, "stick-full"),
    ],
)
def test_any_press_and_any_line_wake_it_for_ten_minutes_more(touch: Event) -> None:
    state, follow = run(SwitchedOn(0), Tick(10 * MINUTE), touch)
    assert follow == [Dim(3), Dim(1), Dim(3)]
    assert run(Tick(21 * MINUTE - 1), state=state)[1] == []
    assert run(Tick(21 * MINUTE), state=state)[1] == [Dim(1)]


def test_a_press_before_it_rests_puts_the_rest_off_and_says_nothing() -> None:
    assert run(KeyDown(5 * MINUTE, PanelKey.EAR), Tick(14 * MINUTE))[1] == []


def test_it_never_rests_when_it_is_told_so_or_is_as_dark_already() -> None:
    for changed in ({"screen_rest": 0}, {"brightness": 1}):
        values = DEFAULTS
        for name, value in changed.items():
            values = values.put(name, value)
        assert run(Tick(600 * MINUTE), state=LIGHT.start(Start(values)))[1] == []


def test_minutes_are_turned_and_kept() -> None:
    state, follow = run(Adjusted(0, "screen_rest", 1))
    assert follow == [SettingChanged(0, "screen_rest", 11)]
    assert state.values.whole("screen_rest") == 11
