"""The panel part: from fingers to wishes, the cursor, and the lines that pass."""

from __future__ import annotations

import itertools

from firmware.events import (
    Adjusted,
    Event,
    Fault,
    KeyDown,
    KeyUp,
    KnobDown,
    KnobTurn,
    KnobUp,
    Noticed,
    PanelKey,
    Pedal,
    PedalDown,
    SettingChanged,
    SwitchedOn,
    Tick,
    Wish,
    Wished,
)
from firmware.heard_events import LevelRead
from firmware.messages import line_of
from firmware.parts.panel import CLIP_LASTS, MESSAGE_LASTS, PANEL, PanelState
from firmware.parts.part import Start, address_of
from firmware.take_events import StickChanged
from firmware.units import RATE


def run(*events: Event, state: PanelState | None = None) -> tuple[PanelState, list[object]]:
    state = state or PANEL.start(Start(stick=True))
    follow: list[object] = []
    for event in events:
        state, more = PANEL.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def test_a_tap_is_a_wish() -> None:
    _, follow = run(KeyDown(0, PanelKey.DRONE), KeyUp(4000, PanelKey.DRONE))
    assert follow == [Wished(4000, Wish.DRONE_TOGGLE)]


def test_a_hold_ripens_with_the_tick() -> None:
    _, follow = run(KeyDown(0, PanelKey.TAKE), Tick(RATE), KeyUp(RATE + 5, PanelKey.TAKE))
    assert follow == [Wished(RATE, Wish.MARKER_DROP)]


def test_hold_and_turn_sets_the_amount() -> None:
    _, follow = run(KeyDown(0, PanelKey.DRONE), KnobTurn(100, -2), KeyUp(RATE, PanelKey.DRONE))
    assert follow == [Adjusted(100, "drone_level", -2)]


def test_a_blind_turn_is_a_key_change() -> None:
    state, follow = run(KnobDown(0), KnobUp(100), KnobTurn(200, 1), Tick(6 * RATE), KnobTurn(6 * RATE + 1, 1))
    assert follow == [Adjusted(200, "mode", 1), Adjusted(6 * RATE + 1, "tonic", 1)]
    assert PANEL.show(state, 0)["cursor"] == "tonic"


def test_push_and_turn_changes_the_page() -> None:
    state, follow = run(KnobDown(0), KnobTurn(10, 1), KnobUp(20))
    assert follow == []
    assert PANEL.show(state, 0)["page"] == "chord"


def test_pedals() -> None:
    _, follow = run(PedalDown(1, Pedal.RIGHT), PedalDown(2, Pedal.LEFT))
    assert follow == [Wished(1, Wish.PLAN_NEXT), Wished(2, Wish.DRONE_TOGGLE)]


def test_the_list_of_takes_opens() -> None:
    state, _ = run(Wished(5, Wish.TAKES_OPEN))
    shown = PANEL.show(state, 5)
    assert (shown["page"], shown["cursor"]) == ("takes", "chosen_take")


def test_a_line_passes() -> None:
    state, _ = run(Noticed(0, "no-take"))
    assert PANEL.show(state, 0)["message"] == line_of("no-take", {})
    state, _ = run(Tick(MESSAGE_LASTS - 1), state=state)
    assert PANEL.show(state, 0)["message"]
    state, _ = run(Tick(MESSAGE_LASTS), state=state)
    assert PANEL.show(state, 0)["message"] == ""


def test_notices_of_the_start_come_first() -> None:
    state = PANEL.start(Start(notices=("setting-bad",)))
    assert run(SwitchedOn(0), state=state)[1] == [Noticed(0, "setting-bad")]


def test_faults_and_sticks_are_told_once() -> None:
    assert run(Fault(3, "sound-lost", "gone"))[1] == [Noticed(3, "sound-lost")]
    out = StickChanged(1, present=False)
    state, follow = run(StickChanged(0, present=True, free_bytes=5), out)
    assert follow == [Noticed(1, "stick-out")]
    assert run(out, StickChanged(2, present=True), state=state)[1] == [Noticed(2, "stick-in")]
    assert run(StickChanged(2, present=False, why="stick-full"))[1] == [Noticed(2, "stick-full")]


def test_levels_and_clipping() -> None:
    state, _ = run(LevelRead(0, -0.1, -12.34, clipped=True), LevelRead(10, -20.4, -33.3, clipped=False))
    shown = PANEL.show(state, 10)
    assert (shown["mic_peak_db"], shown["mic_rms_db"], shown["clipped"]) == (-20, -33, True)
    assert not PANEL.show(state, CLIP_LASTS)["clipped"]


def test_the_knob_order_turns() -> None:
    _, follow = run(Adjusted(0, "knob_order", 1))
    assert follow == [SettingChanged(0, "knob_order", "semitones")]


def test_written_pitch_is_announced() -> None:
    assert run(SettingChanged(1, "reading", "trumpet"))[1][0] == Noticed(1, "reading-on")
    assert run(SettingChanged(1, "reading", "concert"))[1] == []
    assert run(SettingChanged(1, "tempo", 99.0))[1] == []


def test_each_notice_of_the_start_is_shown_for_its_time_whatever_happens_in_between() -> None:
    state = PANEL.start(Start(notices=("card-full", "setting-bad")))
    shown: list[tuple[float, str]] = []
    waiting: list[Event] = [SwitchedOn(0)]
    for tick in range(20 * 20):
        at = tick * RATE // 20
        waiting += [Noticed(at, "sound-lost")] if tick == 10 else []
        waiting.append(Tick(at))
        while waiting:
            event = waiting.pop(0)
            state, follow = PANEL.handlers[address_of(event)](state, event)
            waiting = [one for one in follow if isinstance(one, Event)] + waiting
        line = PANEL.show(state, at)["message"]
        if not shown or shown[-1][1] != line:
            shown.append((at / RATE, line))
    said = [line_of(code, {}) for code in ("card-full", "sound-lost", "card-full", "setting-bad")]
    assert [line for _, line in shown] == [*said, ""]
    assert [after[0] - before[0] for before, after in itertools.pairwise(shown)] == [0.5, 3.0, 3.0, 3.0]
