"""The listener: gain, then take, level and ear, on real ones."""

from __future__ import annotations

import numpy as np

from firmware.events import Event
from firmware.heard_events import Heard, LevelRead
from firmware.hearing.ear import Ear
from firmware.hearing.level import LevelMeter
from firmware.takes.recorder import Chunk, Recorder
from firmware.units import RATE, Samples
from hardware.listener import Listener


def tone(seconds: float, hz: float = 440.0, peak: float = 0.1) -> Samples:
    t = np.arange(round(seconds * RATE)) / RATE
    return (peak * np.sin(2 * np.pi * hz * t)).astype(np.float32)


def listener() -> tuple[Listener, Recorder, list[Chunk], list[Event]]:
    recorder, chunks, events = Recorder(), list[Chunk](), list[Event]()
    return Listener(Ear(), LevelMeter(), recorder, chunks.append, events.append), recorder, chunks, events


def test_readings_come_only_while_it_listens() -> None:
    heard, _, _, events = listener()
    sound = tone(0.5)
    heard.hear(sound, np.zeros_like(sound))
    assert events
    assert not any(isinstance(event, Heard) for event in events)
    heard.listen(True)  # noqa: FBT003 - the switch itself
    heard.hear(sound, np.zeros_like(sound))
    hz = [event.hz for event in events if isinstance(event, Heard)]
    assert len(hz) >= 10
    assert hz[-1] is not None
    assert abs(1200 * np.log2(hz[-1] / 440.0)) < 0.1


def test_gain_reaches_take_and_meter_and_stops_at_full_scale() -> None:
    heard, recorder, chunks, events = listener()
    recorder.start(1, 0)
    heard.amplify(6.0)
    sound = tone(0.5, peak=0.6)
    heard.hear(sound, np.zeros_like(sound))
    recorder.stop(len(sound))
    heard.hear(sound[:0], sound[:0])
    take = np.concatenate([chunk.samples for chunk in chunks])
    assert len(take) == len(sound)
    expected = np.clip(sound.astype(np.float64) * 10 ** (6 / 20), -1.0, 1.0)
    np.testing.assert_allclose(take, expected, atol=1e-6)
    levels = [event for event in events if isinstance(event, LevelRead)]
    assert levels[0].clipped


def test_without_gain_the_take_is_the_microphone_bit_for_bit() -> None:
    heard, recorder, chunks, _ = listener()
    recorder.start(1, 0)
    heard.amplify(0.0)
    sound = tone(0.3, peak=0.9)
    heard.hear(sound, np.zeros_like(sound))
    recorder.stop(len(sound))
    heard.hear(sound[:0], sound[:0])
    np.testing.assert_array_equal(np.concatenate([chunk.samples for chunk in chunks]), sound)
