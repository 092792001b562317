"""A take comes back to the engine whole, at once, and its end is told."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firmware.events import Event, Fault
from firmware.passage import Passage
from firmware.sound.engine import Engine
from firmware.sound.passage_sound import FIRST_PIECE, PIECE
from firmware.sound.snapshot import SILENCE, ReplaySound
from firmware.take_events import ReplayEnded
from firmware.units import RATE, Samples
from hardware.drivers.replay_reader import ReplayFeeder
from hardware.simulated.stick import SimulatedStick

LONG = 5 * RATE + 123
EXACT = FIRST_PIECE + 2 * PIECE


def noise(count: int) -> np.ndarray:
    """Quiet enough to pass the limiter unchanged, on the grid of 24 bits, and like itself in one place only."""
    return (np.random.default_rng(2).integers(-(2**20), 2**20, count) / 2**23).astype(np.float32)


class Sink:
    """An engine that only keeps what it is fed."""

    def __init__(self, room: int) -> None:
        self.room = room
        self.fed: list[tuple[int, Samples, bool]] = []
        self.done = False

    def feed(self, token: int, samples: Samples, last: bool) -> int:  # noqa: FBT001 - the engine's signature
        taken = min(len(samples), self.room)
        self.room -= taken
        self.fed.append((token, samples[:taken], last and taken == len(samples)))
        return taken

    def replay_wants(self) -> int:
        return self.room

    def replay_done(self, _token: int) -> bool:
        return self.done

    def sound(self, token: int) -> np.ndarray:
        return np.concatenate([samples for one, samples, _ in self.fed if one == token])


@pytest.fixture
def stick(tmp_path: Path) -> SimulatedStick:
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    for name, count in (("long", LONG), ("exact", EXACT), ("short", 100)):
        take = stick.open_take(f"{name}.flac")
        take.write(noise(count))
        take.close()
    return stick


@pytest.mark.parametrize(("name", "count"), [("long", LONG), ("exact", EXACT), ("short", 100)])
@pytest.mark.parametrize("first", [0, 77])
def test_all_samples_come_in_order_and_the_end_is_marked_once(
    stick: SimulatedStick, name: str, count: int, first: int
) -> None:
    sink = Sink(1000)
    feeder = ReplayFeeder(stick, sink)
    feeder.open(f"{name}.flac", 5, Passage(first))
    while feeder.feeding:
        sink.room = 7001
        feeder.pump()
    assert np.array_equal(sink.sound(5), noise(count)[first:])
    assert [last for _, _, last in sink.fed].count(True) == 1
    assert sink.fed[-1][2]


def test_the_first_samples_come_at_once_even_if_the_engine_is_full_of_another_take(stick: SimulatedStick) -> None:
    sink = Sink(0)
    feeder = ReplayFeeder(stick, sink)
    sink.room = 0
    feeder.open("long.flac", 1, Passage())
    assert [token for token, _, _ in sink.fed] == [1]


def test_a_new_order_takes_the_place_of_the_one_before(stick: SimulatedStick) -> None:
    sink = Sink(RATE)
    feeder = ReplayFeeder(stick, sink)
    feeder.open("long.flac", 1, Passage())
    feeder.open("short.flac", 2, Passage())
    sink.room = 10 * RATE
    feeder.open("short.flac", 3, Passage())
    assert np.array_equal(sink.sound(3), noise(100))
    feeder.open("long.flac", 4, Passage())
    fed = len(sink.fed)
    feeder.close()
    feeder.pump()
    assert len(sink.fed) == fed
    assert not feeder.feeding


def test_a_take_that_cannot_be_read_is_told_and_ends(stick: SimulatedStick) -> None:
    events: list[Event] = []
    sink = Sink(RATE)
    feeder = ReplayFeeder(stick, sink, events.append, lambda: 9)
    feeder.open("none.flac", 1, Passage())
    assert sink.fed[-1][2]
    assert [(type(event), event.at) for event in events] == [(Fault, 9)]
    sink.done = True
    feeder.pump()
    feeder.pump()
    assert [type(event) for event in events] == [Fault, ReplayEnded]


def test_the_engine_plays_the_take_and_its_end_is_told_when_it_was_heard(stick: SimulatedStick) -> None:
    """With the real engine: from the order to sound well under 150 ms, and every sample of the take in its place."""
    engine = Engine()
    events: list[Event] = []
    feeder = ReplayFeeder(stick, engine, events.append, lambda: engine.position)
    silence = np.zeros(512, dtype=np.float32)
    engine.process(np.zeros(3 * RATE, dtype=np.float32))  # the soft start of power-on is over
    pressed = engine.position
    feeder.open("long.flac", 1, Passage())
    engine.sound = replace(SILENCE, replay=ReplaySound(on=True, token=1))
    played = []
    while not events:
        played.append(engine.process(silence))
        feeder.pump()
        assert engine.position - pressed < LONG + RATE
    heard = np.concatenate(played)
    begun = int(np.flatnonzero(np.abs(heard) > 1e-4)[0])
    assert begun < 0.15 * RATE
    assert isinstance(events[0], ReplayEnded)
    assert pressed + LONG <= events[0].at <= pressed + LONG + begun + 4096
    lag = int(np.argmax(np.correlate(heard[: 2 * RATE], noise(LONG)[1000:2000], "valid"))) - 1000
    middle = slice(RATE, 4 * RATE)
    assert 0 <= lag <= begun
    assert np.max(np.abs(heard[lag:][middle] - noise(LONG)[middle])) < 1e-6
    assert engine.replay_missing == 0
    print(f"replay sounds {begun / RATE * 1000:.1f} ms after the key on the box's clock")  # noqa: T201 - the figure


def test_the_thread_feeds_by_itself_and_opening_does_not_wait(stick: SimulatedStick) -> None:
    sink = Sink(2 * RATE)
    feeder = ReplayFeeder(stick, sink)
    feeder.start()
    feeder.start()
    feeder.open("long.flac", 1, Passage())
    deadline = time.monotonic() + 10
    while time.monotonic() < deadline and (not sink.fed or feeder.feeding):
        sink.room = 2 * RATE
        time.sleep(0.002)
    feeder.stop()
    feeder.stop()
    assert np.array_equal(sink.sound(1), noise(LONG))
