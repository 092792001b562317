"""Long tones to the pulse, in a whole box."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.box import Box
from firmware.events import Adjusted, SwitchedOn, Tick, Wish, Wished
from firmware.parts.part import Start
from firmware.settings import DEFAULTS, Value
from firmware.sound.engine import Engine
from firmware.units import RATE, Samples

BEAT = RATE * 60 // 120
TICK = RATE // 20


def box_with(**values: Value) -> Box:
    kept = DEFAULTS
    for name, value in ({"tempo": 120.0} | values).items():
        kept = kept.put(name, value)
    box = Box(Start(kept))
    box.handle(SwitchedOn(0))
    return box


def run(box: Box, begin: int, end: int) -> list[tuple[float, str]]:
    """Tick from one sample to another; the drone as (beats since the pulse began, tonic or nothing) at each change."""
    seen: list[tuple[float, str]] = []
    for at in range(begin, end, TICK):
        box.handle(Tick(at))
        view = box.view(at)
        now = view.tonic if view.drone_on else ""
        if not seen or seen[-1][1] != now:
            seen.append((round((at - box.sound.pulse.start) / BEAT, 1), now))
    return seen


def test_tones_and_rests_come_on_their_beats():
    box = box_with(tonics="scale", tone_beats=2, rest_beats=1)
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    start = round(box.sound.pulse.start)
    seen = run(box, start, start + 10 * BEAT)
    # A tick is 0.1 beat: what is due on a beat is on the screen one tick later at most.
    assert [tonic for _, tonic in seen] == ["B♭", "", "C", "", "D", "", "E♭"]
    assert [beat for beat, _ in seen] == pytest.approx([0, 2, 3, 5, 6, 8, 9], abs=0.11)


def test_without_rests_they_follow_each_other():
    box = box_with(tonics="F C", tone_beats=1, rest_beats=0)
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    seen = run(box, 0, 4 * BEAT)
    assert [tonic for _, tonic in seen if tonic][:4] == ["F", "C", "F", "C"]


def test_the_sound_itself_rests_on_the_beat():
    box = box_with(tonics="fifths", tone_beats=2, rest_beats=2, pulse_level=-48.0)
    engine = Engine()
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    blocks: list[Samples] = []
    silent = np.zeros(480, dtype=np.float32)
    for at in range(0, 8 * BEAT, 480):
        if at % TICK == 0:
            box.handle(Tick(at))
        engine.sound = box.sound
        blocks.append(engine.process(silent))
    start = round(box.sound.pulse.start)
    level = [float(abs(block).max()) for block in blocks]

    def loud(beat: float) -> float:
        return level[(start + round(beat * BEAT)) // 480]

    assert loud(1.5) > 20 * loud(3.3)
    assert loud(5.0) > 20 * loud(3.3)
    assert loud(1.9) > 5 * loud(2.6)


def test_another_start_begins_with_the_tonic_of_the_moment():
    box = box_with(tonics="semitones", tone_beats=1, rest_beats=0)
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    run(box, 0, 2 * BEAT + BEAT // 2)
    here = box.view(0).tonic
    stop = 2 * BEAT + BEAT // 2 + 100
    box.handle(Wished(stop, Wish.PULSE_TOGGLE))
    box.handle(Tick(stop + 1))
    box.handle(Wished(stop + 2, Wish.PULSE_TOGGLE))
    seen = run(box, stop + 3, stop + 2 * BEAT)
    assert [tonic for _, tonic in seen[:2]] == [here, "D♭"]


def test_turned_off_the_drone_stays_as_it_is():
    box = box_with(tonics="F C", tone_beats=1, rest_beats=0)
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    run(box, 0, BEAT)
    box.handle(Adjusted(BEAT, "tonics", 1))
    box.handle(Adjusted(BEAT, "tonics", -1))
    while box.state_of("long_tones").values.text("tonics") != "none":
        box.handle(Adjusted(BEAT, "tonics", 1))
    before = run(box, BEAT, BEAT + TICK)
    assert {tonic for _, tonic in run(box, BEAT + TICK, 6 * BEAT)} <= {before[0][1], "F", "C"}
    assert len(run(box, 3 * BEAT, 6 * BEAT)) == 1
