"""The pulse part: taps, turns and where the beat stands, in samples."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.events import Adjusted, Event, Noticed, PlanStepped, SettingChanged, Wish, Wished
from firmware.parts.part import Start, address_of
from firmware.parts.pulse import PULSE, PulseState, place
from firmware.units import RATE


def run(*events: Event, state: PulseState | None = None) -> tuple[PulseState, list[object]]:
    state = state or PULSE.start(Start())
    follow: list[object] = []
    for event in events:
        state, more = PULSE.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def tap(at: float) -> Wished:
    return Wished(round(at * RATE), Wish.PULSE_TAP)


def test_it_starts_on_the_press() -> None:
    state, _ = run(Wished(12345, Wish.PULSE_TOGGLE))
    sound = PULSE.sound(state)["pulse"]
    assert (sound.on, sound.start, sound.tempo, sound.beats) == (True, 12345, 92.0, 4)
    assert place(state, 12345) == (1, 1)
    state, _ = run(Wished(99999, Wish.PULSE_TOGGLE), state=state)
    assert not PULSE.sound(state)["pulse"].on


def test_taps_set_the_tempo_and_the_click_comes_after_the_last() -> None:
    state, follow = run(tap(0), tap(0.5), tap(1.0), tap(1.5))
    assert state.values.number("tempo") == 120.0
    assert state.start == 2 * RATE
    assert place(state, state.start - 1) == (0, 0)
    assert place(state, state.start) == (1, 1)
    assert isinstance(follow[-1], Noticed)


def test_one_bad_tap_does_no_harm() -> None:
    state, _ = run(tap(0), tap(0.6), tap(1.2), tap(1.35), tap(2.4), tap(3.0))
    assert state.values.number("tempo") == pytest.approx(100.0, abs=0.1)


def test_a_pause_begins_a_new_tempo() -> None:
    state, _ = run(tap(0), tap(0.5), tap(10.0))
    assert not state.on
    state, _ = run(tap(11.0), state=state)
    assert state.values.number("tempo") == 60.0


def test_taps_beyond_the_range_stop_at_its_end() -> None:
    state, _ = run(tap(0), tap(0.01))
    assert state.values.number("tempo") == 300.0
    state, _ = run(Wished(0, Wish.PULSE_TAP), Wished(0, Wish.PULSE_TAP))
    assert state.values.number("tempo") == 300.0


@given(st.integers(0, 40 * RATE), st.integers(-30, 30).filter(bool))
def test_a_new_tempo_begins_at_the_next_beat(at: int, steps: int) -> None:
    state, _ = run(Wished(0, Wish.PULSE_TOGGLE))
    before = state.period
    done = int(at / before) + 1
    state, follow = run(Adjusted(at, "tempo", steps), state=state)
    assert follow == [SettingChanged(at, "tempo", 92.0 + steps)]
    assert state.start + done * state.period == pytest.approx(done * before, abs=0.5)


def test_a_plan_step_sets_tempo_and_beats() -> None:
    state, follow = run(PlanStepped(5, 1, "Waltz", (("tempo", 150.0), ("beats", 3), ("tonic", "F"))))
    assert (state.values.number("tempo"), state.values.whole("beats")) == (150.0, 3)
    assert len(follow) == 2


def test_the_screen_counts_bars_and_beats() -> None:
    state, _ = run(Wished(0, Wish.PULSE_TOGGLE), Adjusted(0, "tempo", -32))
    assert state.values.number("tempo") == 60.0
    shown = PULSE.show(state, 5 * RATE + 10)
    assert (shown["bar"], shown["beat"], shown["beats"], shown["pulse_on"]) == (2, 2, 4, True)
    assert PULSE.show(PULSE.start(Start()), 100)["bar"] == 0
