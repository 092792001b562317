"""The level part: calibration, dose, warnings that don't nag, and what is told."""

from __future__ import annotations

import pytest

from firmware.events import Adjusted, Event, Noticed, PlanStepped, PowerDown, SettingChanged
from firmware.heard_events import LevelRead
from firmware.parts.level import LEVEL, LevelState
from firmware.parts.part import Start, address_of
from firmware.room_events import SoundRead, SoundTold
from firmware.units import RATE


def run(*events: Event, state: LevelState | None = None) -> tuple[LevelState, list[object]]:
    state = state or LEVEL.start(Start())
    follow: list[object] = []
    for event in events:
        state, more = LEVEL.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def read(seconds: float, level: float = -20.0, *, hum: float = 0.0, rides: bool = False) -> SoundRead:
    return SoundRead(round(seconds * RATE), 0.5, level, level + 3, level, hum, -60.0, rides)


def turned(steps: int, at: int = 0) -> Adjusted:
    return Adjusted(at, "level_offset", steps)


def test_it_is_uncalibrated_until_someone_turns() -> None:
    state, follow = run(read(0.5, -42.4))
    shown = LEVEL.show(state, 0)
    assert (shown["calibrated"], shown["sound_db"], shown["dose"]) == (False, -42.0, 0.0)
    assert follow == []


def test_the_first_turn_comes_near_and_the_next_are_half_decibels() -> None:
    state, follow = run(turned(1), turned(3))
    assert state.offset == 101.5
    assert [event.value for event in follow if isinstance(event, SettingChanged)] == [100.0, 101.5]
    state, _ = run(read(0.5, -30.0), state=state)
    assert LEVEL.show(state, 0)["sound_db"] == pytest.approx(71.5)
    state, _ = run(turned(-100), state=state)
    assert state.offset is None


def test_dose_is_told_at_its_steps() -> None:
    # 100 dB(A): a quarter of an hour is a full dose (NIOSH 98-126, table 1-1)
    state, _ = run(turned(1))
    state, follow = run(*(read(i / 2, 0.0) for i in range(1, 1802)), state=state)
    doses = [event.values[0][1] for event in follow if isinstance(event, Noticed) and event.message == "dose"]
    assert doses == ["50", "100"]
    assert LEVEL.show(state, 0)["dose"] == 100.0


def test_it_tells_the_log_once_a_minute_and_at_the_end() -> None:
    state, follow = run(*(read(i / 2) for i in range(1, 301)))
    told = [event for event in follow if isinstance(event, SoundTold)]
    assert [event.at // RATE for event in told] == [60, 120]
    assert told[0].mean_db == pytest.approx(-20.0)
    assert not told[0].calibrated
    _, follow = run(PowerDown(151 * RATE), state=state)
    assert [event.seconds for event in follow if isinstance(event, SoundTold)] == [150.0]
    assert run(PowerDown(5))[1] == []


def test_warnings_do_not_nag() -> None:
    _, follow = run(*(read(i / 2, hum=50.0, rides=True) for i in range(1, 700)))
    warned = [(event.message, event.at // RATE) for event in follow if isinstance(event, Noticed)]
    assert warned == [("hum", 0), ("gain-rides", 0), ("hum", 300), ("gain-rides", 300)]


def test_one_knock_is_no_warning_but_clipping_is() -> None:
    def clip(tenths: int) -> LevelRead:
        return LevelRead(tenths * RATE // 10, 0.0, -10.0, clipped=True)

    fine = LevelRead(0, -3.0, -10.0, clipped=False)
    assert run(clip(1), fine, clip(50), clip(90))[1] == []
    _, follow = run(clip(1), clip(2), clip(3), clip(4), clip(5), clip(6))
    assert [event.message for event in follow if isinstance(event, Noticed)] == ["clipping"]


def test_a_plan_may_set_it() -> None:
    state, _ = run(PlanStepped(0, 0, "", (("level_offset", 103.0), ("tempo", 80.0))))
    assert state.offset == 103.0
