"""The part that moves chords, by itself and in a whole box."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from firmware.box import Box
from firmware.commands import Play
from firmware.events import (
    Adjusted,
    Event,
    Pedal,
    PedalDown,
    PedalUp,
    SwitchedOn,
    Tick,
    Wish,
    Wished,
)
from firmware.music.modes import MODES
from firmware.parts.part import Start
from firmware.plan.plan import Plan, PlanStep
from firmware.settings import DEFAULTS, PROGRESSIONS, Value
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import RATE

BEAT = RATE * 60 // 120
PEDAL = Wished(10, Wish.PLAN_NEXT)


def box_with(plan: Plan | None = None, **values: Value) -> Box:
    settings = DEFAULTS
    for name, value in ({"tonic": "C", "tempo": 120.0} | values).items():
        settings = settings.put(name, value)
    box = Box(Start(settings, plan or Plan()))
    box.handle(SwitchedOn(0))
    box.handle(Wished(0, Wish.DRONE_TOGGLE))
    return box


def chord_of(box: Box) -> tuple[str, float]:
    view = box.view(0)
    return view.moving, round(view.drift, 1)


def names(box: Box) -> set[str]:
    return {note.rstrip("0123456789") for note in box.view(0).chord}


def test_without_a_progression_the_drone_has_its_shape():
    box = box_with()
    assert chord_of(box) == ("", 0.0)
    assert names(box) == {"C"}


def test_the_pedal_moves_the_chord_at_once():
    box = box_with(progression="I vi ii V")
    assert names(box) == {"C", "E", "G"}
    commands = box.handle(PEDAL)
    assert any(isinstance(command, Play) for command in commands)
    assert names(box) == {"A", "C", "E"}
    assert chord_of(box) == ("vi", 0.0)


def test_common_tones_carry_on_as_the_same_tone():
    box = box_with(progression="I vi ii V", stays="common")
    before = {tone.hz for tone in box.sound.drone.tones}
    box.handle(PEDAL)
    assert before & {tone.hz for tone in box.sound.drone.tones}


@pytest.mark.parametrize(("stays", "drift"), [("tonic", 0.0), ("common", -21.5), ("least", -0.9)])
def test_a_turn_of_the_pump_shows_its_drift(stays, drift):
    box = box_with(progression="I vi ii V", stays=stays)
    for _ in range(4):
        box.handle(PEDAL)
    assert chord_of(box) == ("I", pytest.approx(drift, abs=0.5))


def test_the_pedal_comes_to_the_last_chord_before_the_plan_moves_on():
    steps = (PlanStep("turn", (("progression", "I IV V"),)), PlanStep("rest", (("progression", "none"),)))
    box = box_with(Plan("evening", steps))
    seen = []
    for _ in range(5):
        box.handle(PEDAL)
        seen.append((box.view(0).plan_step, box.view(0).moving))
    # After the last chord comes the next step; at the end of the plan nothing moves any more.
    assert seen == [(1, "I"), (1, "IV"), (1, "V"), (2, ""), (2, "")]


def test_alone_the_chords_go_round_and_nobody_misses_a_plan():
    box = box_with(progression="I V")
    seen = []
    for _ in range(3):
        box.handle(PEDAL)
        seen.append(box.view(0).moving)
    assert seen == ["V", "I", "V"]
    assert "plan" not in box.view(0).message.lower()


def test_the_key_moves_under_the_chord():
    box = box_with(progression="I vi")
    box.handle(PEDAL)
    box.handle(Adjusted(20, "tonic", 1))
    assert chord_of(box)[0] == "vi"
    assert names(box) == {"E", "G", "B"}


def test_a_turn_leads_back_to_the_drone_s_own_shape():
    box = box_with(progression="Imaj7")
    assert names(box) == {"C", "E", "G", "B"}
    box.handle(Adjusted(20, "progression", 1))
    assert chord_of(box) == ("", 0.0)
    assert names(box) == {"C"}


def test_another_progression_under_a_running_pulse_moves_at_its_bar_line():
    box = box_with(progression="I:1 IV:1", chords_by="pulse")
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    start = box.sound.pulse.start
    run(box, round(start) + BEAT)
    while box.state_of("moving").values.text("progression") != "I V vi IV":
        box.handle(Adjusted(BEAT, "progression", 1))
    (due, *_) = run(box, round(start) + 5 * BEAT, begin=round(start) + BEAT)
    assert (due - start) / BEAT == pytest.approx(4, abs=1e-3)


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
def test_every_progression_on_the_knob_is_read_in_every_mode(mode):
    box = box_with(mode=mode.name)
    for _ in PROGRESSIONS:
        box.handle(Adjusted(1, "progression", 1))
        assert box.view(0).moving or box.state_of("moving").values.text("progression") == "none"


def test_compare_lets_the_same_chord_be_heard_in_the_other_tuning():
    box = box_with(progression="I IV")
    just = [tone.hz for tone in box.sound.drone.tones]
    box.handle(Wished(5, Wish.COMPARE_START))
    equal = [tone.hz for tone in box.sound.drone.tones]
    assert len(equal) == len(just)
    # ISO 16:1975: A4 = 440 Hz; in equal temperament every other tone is whole semitones from it.
    semitones = [12 * math.log2(hz / 440) for hz in equal]
    assert semitones == pytest.approx([round(number) for number in semitones], abs=1e-9)
    box.handle(Wished(6, Wish.COMPARE_END))
    assert [tone.hz for tone in box.sound.drone.tones] == just
    assert just != equal


def run(box: Box, until: int, *, step: int = RATE // 20, begin: int = 0) -> list[tuple[int, Event]]:
    """Tick through some samples; when the drone is told to change, on which sample."""
    dues = []
    for at in range(begin, until, step):
        box.handle(Tick(at))
        then = box.sound.drone.then
        if then is not None and (not dues or dues[-1] != box.sound.drone.due):
            dues.append(box.sound.drone.due)
    return dues


def test_the_pulse_moves_the_chords_on_its_beats():
    box = box_with(progression="I:2 IV V:1", chords_by="pulse")
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    start = box.sound.pulse.start
    dues = run(box, round(start) + 9 * BEAT)
    beats = [(due - start) / BEAT for due in dues]
    # I for two beats, IV to the bar line, V for one; I for two, IV to the bar line again, V for one.
    assert beats == pytest.approx([2, 4, 5, 7, 8, 9], abs=1e-3)


def test_another_start_of_the_pulse_begins_again():
    box = box_with(progression="I:1 IV:1 V:1", chords_by="pulse")
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    run(box, BEAT + BEAT // 2)
    assert chord_of(box)[0] == "IV"
    box.handle(Wished(2 * BEAT, Wish.PULSE_TOGGLE))
    box.handle(Wished(2 * BEAT, Wish.PULSE_TOGGLE))
    box.handle(Tick(2 * BEAT + 1))
    assert chord_of(box)[0] == "I"


def test_the_pedal_leaves_chords_alone_that_the_pulse_moves():
    box = box_with(progression="I IV", chords_by="pulse")
    box.handle(PEDAL)
    assert chord_of(box)[0] == "I"


def test_a_pedal_that_is_pressed_is_a_wish():
    box = box_with(progression="I IV")
    box.handle(PedalDown(0, Pedal.RIGHT))
    box.handle(PedalUp(100, Pedal.RIGHT))
    assert chord_of(box)[0] == "IV"


def test_the_engine_changes_on_the_beat_to_half_a_block():
    low, high = (
        DroneSound(on=True, tones=(ToneSound(hz),), timbre="plain", fade_seconds=0.005) for hz in (110.0, 990.0)
    )
    for due in (20_000, 20_300, 20_600):
        engine = Engine()
        engine.sound = Sound(drone=replace(low, then=high, due=due))
        played = np.concatenate([engine.process(np.zeros(512, np.float32)) for _ in range(80)])[engine.latency :]
        steps = np.abs(np.diff(played))
        quiet = steps[15_000:19_000].max()
        first = int(np.argmax(steps[19_000:] > 1.5 * quiet)) + 19_000
        # Half a block early or late, and a part of the cross-fade of 25 ms before the new tone is seen.
        assert -256 <= first - due <= 256 + 1200


def test_what_was_due_on_a_beat_that_will_not_come_is_forgotten():
    box = box_with(progression="I:2 IV:2", chords_by="pulse")
    box.handle(Wished(0, Wish.PULSE_TOGGLE))
    run(box, round(1.8 * BEAT))
    assert box.sound.drone.then is not None
    box.handle(Wished(round(1.8 * BEAT), Wish.PULSE_TOGGLE))
    run(box, 4 * BEAT, begin=round(1.8 * BEAT))
    assert chord_of(box)[0] == "I"
