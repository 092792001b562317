"""The pulse part: taps, turns and where the beat stands, in samples."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.events import Adjusted, Event, KeyDown, Noticed, PanelKey, PlanStepped, SettingChanged, Tick, Wish, Wished
from firmware.music.meter import Bars
from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.parts.part import Start, address_of
from firmware.parts.pulse import PULSE, PulseState, place
from firmware.pulse import Piece, Rhythms
from firmware.settings import DEFAULTS
from firmware.units import RATE


def begin(**changes: str | float) -> PulseState:
    values = DEFAULTS
    for name, value in changes.items():
        values = values.put(name, value)
    piece = Piece("Ferry Hymn", Program(Bars(), Curve(15.0), length=3))
    return PULSE.start(Start(values, rhythms=Rhythms(pieces=(piece,))))


def run(*events: Event, state: PulseState | None = None) -> tuple[PulseState, list[object]]:
    state = state or PULSE.start(Start())
    follow: list[object] = []
    for event in events:
        state, more = PULSE.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def tap(at: float) -> Wished:
    return Wished(round(at * RATE), Wish.PULSE_TAP)


def toggle(at: int = 0) -> Wished:
    return Wished(at, Wish.PULSE_TOGGLE)


def beats_from(state: PulseState, bar: int) -> list[float]:
    """Seconds of the box's clock of the beats of a bar."""
    return [state.start / RATE + beat.time for beat in state.program.beats(bar)]


def where(state: PulseState, at: int) -> tuple[int, int]:
    return place(state, at).bar, place(state, at).beat


def test_it_starts_on_the_press() -> None:
    state, _ = run(toggle(12345))
    sound = PULSE.sound(state)["pulse"]
    assert (sound.on, sound.start, sound.program.curve.speed, sound.run) == (True, 12345, 23.0, 1)
    assert where(state, 12345) == (1, 1)
    state, _ = run(toggle(99999), state=state)
    assert not PULSE.sound(state)["pulse"].on


def test_taps_set_the_tempo_and_the_click_comes_after_the_last() -> None:
    state, follow = run(tap(0), tap(0.5), tap(1.0), tap(1.5), state=begin(count_in=2))
    assert state.values.number("tempo") == 120.0
    assert state.start == 2 * RATE
    assert where(state, 2 * RATE - 1) == (0, 0)
    assert where(state, 2 * RATE) == (1, 1)
    assert isinstance(follow[-1], Noticed)


@pytest.mark.parametrize("bad", [0.75, 1.0, 1.35, 1.7])
def test_one_bad_tap_does_no_harm(bad: float) -> None:
    taps = [0, 0.6, bad, 1.8, 2.4, 3.0]
    state, _ = run(*(tap(at) for at in taps))
    assert state.values.number("tempo") == pytest.approx(100.0, abs=0.1)


def test_one_missing_tap_does_no_harm() -> None:
    state, _ = run(*(tap(at) for at in (0, 0.6, 1.8, 2.4, 3.0)))
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


@settings(deadline=None)
@given(st.integers(0, 40 * RATE), st.integers(-30, 30).filter(bool))
def test_a_new_tempo_begins_at_the_next_beat(at: int, steps: int) -> None:
    state, _ = run(toggle())
    period = 60 / 92 * RATE
    done = int(at / period + 1e-9) + 1
    state, follow = run(Adjusted(at, "tempo", steps), state=state)
    assert follow == [SettingChanged(at, "tempo", 92.0 + steps)]
    next_beats = [state.start + state.program.time(Fraction(beat, 4)) * RATE for beat in (done, done + 1)]
    assert next_beats == pytest.approx([done * period, done * period + 60 / (92 + steps) * RATE], abs=0.01)


def test_a_new_tempo_begins_at_once_when_that_is_chosen() -> None:
    state, _ = run(toggle(), Adjusted(RATE // 2, "tempo", 60), state=begin(tempo=60.0, tempo_change="at-once"))
    assert beats_from(state, 1) == pytest.approx([0.0, 0.75, 1.25, 1.75])  # half a beat is over at 0.5 s


def test_many_turns_leave_no_trace_of_rounding() -> None:
    turns = [Adjusted(round(RATE * (1 + at / 20)), "tempo", 1 if at % 2 else -1) for at in range(400)]
    state, _ = run(toggle(), *turns, Adjusted(22 * RATE, "tempo", 0), state=begin(tempo=60.0))
    assert where(state, 30 * RATE)[0] == 8


def test_the_tempo_can_be_turned_by_tenths() -> None:
    state, follow = run(Adjusted(0, "tempo_tenths", 3))
    assert follow == [SettingChanged(0, "tempo", 92.3)]
    state, _ = run(Adjusted(0, "tempo_tenths", 99999), state=state)
    assert state.values.number("tempo") == 300.0


def test_the_next_press_is_the_first_beat_and_its_release_is_no_tap() -> None:
    state, follow = run(toggle(100), state=begin(pulse_start="next-press"))
    assert not state.on
    assert PULSE.show(state, 100)["waiting"]
    assert follow == [Noticed(100, "pulse-waits")]
    state, _ = run(KeyDown(500, PanelKey.EAR), state=state)
    assert not state.on
    state, _ = run(KeyDown(777, PanelKey.PULSE), toggle(900), state=state)
    assert (state.on, state.start) == (True, 777)
    state, _ = run(KeyDown(5000, PanelKey.PULSE), toggle(5100), state=state)
    assert not state.on


def test_a_pulse_that_waits_can_be_called_off() -> None:
    state, _ = run(toggle(100), toggle(200), state=begin(pulse_start="next-press"))
    assert not state.waiting
    assert not state.on


def test_a_groove_brings_its_meter() -> None:
    state, follow = run(Adjusted(5, "groove", 7))
    assert follow == [SettingChanged(5, "groove", "waltz"), SettingChanged(5, "meter", "3/4")]
    assert state.program.groove is not None
    assert PULSE.show(state, 5)["meter_groups"] == (3,)


def test_a_groove_chosen_while_it_runs_begins_its_meter_with_the_next_bar() -> None:
    state, _ = run(toggle(), Adjusted(RATE, "groove", 7), state=begin(tempo=60.0))
    assert [state.program.bars.bar(bar)[1].beats for bar in (1, 2, 3)] == [4, 3, 3]
    assert beats_from(state, 2)[0] == 4.0


def test_a_plan_step_sets_tempo_and_meter() -> None:
    state, follow = run(PlanStepped(5, 1, "Waltz", (("tempo", 150.0), ("meter", "3/4"), ("tonic", "F"))))
    assert (state.values.number("tempo"), state.program.bars.text) == (150.0, "3/4")
    assert len(follow) == 2


def test_a_plan_step_may_ask_for_a_groove_that_there_is_not() -> None:
    state, follow = run(PlanStepped(5, 1, "x", (("groove", "tango"),)))
    assert follow[-1] == Noticed(5, "groove-unknown", (("name", "tango"),))
    assert state.program.groove is None
    _, follow = run(PlanStepped(5, 1, "x", (("groove", "waltz"),)))
    assert ("meter", "3/4") in [(one.name, one.value) for one in follow if isinstance(one, SettingChanged)]


def test_a_piece_plays_its_own_bars_and_ends() -> None:
    state, _ = run(PlanStepped(5, 1, "x", (("groove", "Ferry Hymn"),)), toggle(RATE), state=begin())
    assert state.program.length == 3
    assert state.on
    state, _ = run(Adjusted(2 * RATE, "tempo", 9), Tick(12 * RATE), state=state)
    assert state.on
    state, _ = run(Tick(14 * RATE), state=state)
    assert not state.on


def test_a_piece_chosen_while_the_pulse_runs_begins_with_the_next_bar() -> None:
    state, _ = run(toggle(), PlanStepped(RATE, 1, "x", (("groove", "Ferry Hymn"),)), state=begin(tempo=60.0))
    assert (state.start, state.run) == (4 * RATE, 2)


def test_the_screen_counts_bars_and_beats() -> None:
    state, _ = run(toggle(), state=begin(tempo=60.0))
    shown = PULSE.show(state, 5 * RATE + 10)
    assert (shown["bar"], shown["beat"], shown["beats"], shown["pulse_on"]) == (2, 2, 4, True)
    assert shown["phase"] == 0.0
    assert PULSE.show(state, round(5.5 * RATE) + 10)["phase"] == 0.5
    assert PULSE.show(PULSE.start(Start()), 100)["bar"] == 0


def test_the_screen_tells_of_count_in_silence_and_ramp() -> None:
    state, _ = run(
        toggle(),
        state=begin(tempo=60.0, count_in=1, heard_bars=1, silent_bars=1, ramp_to=120.0, ramp_over=8, ramp_after=2),
    )
    shown = [PULSE.show(state, round(at * RATE)) for at in (1.0, 5.0, 9.0, 12.0, 14.0, 30.0)]
    assert [each["counting"] for each in shown] == [True, False, False, False, False, False]
    assert [each["silent_bar"] for each in shown][:4] == [False, False, True, False]
    assert shown[1]["next_bar"] == "silent"
    assert shown[2]["next_bar"] == "faster to 120, heard"
    assert "ramp" not in shown[2]
    assert (shown[3]["ramp"], shown[3]["ramp_to"], shown[3]["tempo"]) == (0.0, 120.0, 60.0)
    assert 60 < shown[4]["tempo"] < 120
    assert shown[5]["tempo"] == 120.0


def test_the_program_is_the_same_until_a_setting_changes() -> None:
    state, _ = run(toggle())
    assert PULSE.sound(state) == PULSE.sound(run(Tick(9), Adjusted(9, "pulse_level", 0), state=state)[0])


def test_a_turn_between_the_last_tap_and_the_first_beat_counts() -> None:
    state, _ = run(tap(0), tap(1.0), Adjusted(round(1.5 * RATE), "tempo", 60), state=begin(count_in=1))
    assert state.start == 2 * RATE
    assert beats_from(state, 1) == pytest.approx([2.0, 2.5, 3.0, 3.5])
    assert state.program.first_bar == 1


def test_at_rest_the_screen_shows_the_tempo_that_it_will_begin_with() -> None:
    assert PULSE.show(begin(moves="60->120 over 8 beats"), 0)["tempo"] == 60.0
    assert PULSE.show(begin(groove="Ferry Hymn", tempo=140.0), 0)["tempo"] == 60.0
