"""The gain part speaks when it helps, and not more often."""

from __future__ import annotations

from firmware.events import Noticed, SettingChanged
from firmware.heard_events import LevelRead
from firmware.parts.gain import GAIN, GainState
from firmware.parts.part import Start, address_of
from firmware.take_events import TakeStarted, TakeStopped
from firmware.units import RATE


class Bench:
    """The part, and what it said."""

    def __init__(self) -> None:
        self.state: GainState = GAIN.start(Start())
        self.at = 0
        self.said: list[str] = []

    def give(self, event: LevelRead | TakeStarted | TakeStopped | SettingChanged) -> None:
        self.state, follow = GAIN.handlers[address_of(event)](self.state, event)
        for one in follow:
            assert isinstance(one, Noticed)
            assert one.message == "gain-advice"
            self.said.append(dict(one.values)["advice"])

    def play(self, seconds: int, peak_db: float, *, clipped: bool = False) -> None:
        for _ in range(seconds * 10):
            self.at += RATE // 10
            self.give(LevelRead(self.at, peak_db, peak_db - 12, clipped))


def test_advice_comes_with_the_take() -> None:
    bench = Bench()
    bench.play(30, -30.0)
    assert bench.said == []
    bench.give(TakeStarted(bench.at, 1, 0))
    assert bench.said == ["21 dB up"]
    bench.play(100, -30.0)
    assert bench.said == ["21 dB up"]
    bench.play(30, -30.0)
    assert bench.said == ["21 dB up"] * 2, "again after two minutes"
    bench.give(TakeStopped(bench.at, 1, 1.0, ()))
    bench.play(200, -30.0)
    assert bench.said == ["21 dB up"] * 2
    bench.give(TakeStarted(bench.at, 2, 0))
    assert bench.said == ["21 dB up"] * 3


def test_a_turn_of_the_gain_is_counted_in() -> None:
    bench = Bench()
    bench.play(30, -30.0)
    bench.give(SettingChanged(bench.at, "preroll", 9))
    bench.give(SettingChanged(bench.at, "mic_gain", 21.0))
    bench.give(TakeStarted(bench.at, 1, 0))
    bench.play(20, -9.0)
    assert bench.said == []
    bench.give(SettingChanged(bench.at, "mic_gain", 12.0))
    bench.play(10, 0.0, clipped=True)
    assert bench.said == ["9 dB down"]
