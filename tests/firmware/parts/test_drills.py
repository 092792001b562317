"""Drills in a whole Box: begun by hand or by the plan, answered, broken off; drone, ear and panel with them."""

from __future__ import annotations

import json
from collections.abc import Iterable

import pytest

from firmware.box import Box
from firmware.commands import AppendLine, Command, Listen
from firmware.drills.drill import Phase
from firmware.events import (
    Adjusted,
    Event,
    KeyDown,
    KeyUp,
    KnobDown,
    KnobTurn,
    KnobUp,
    PanelKey,
    Pedal,
    PedalDown,
    PowerDown,
    SwitchedOn,
    Tick,
    Wish,
    Wished,
)
from firmware.heard_events import Heard
from firmware.parts.part import Start
from firmware.plan.plan import Plan, PlanStep
from firmware.settings import DEFAULTS, Value
from firmware.take_events import TakeSaved
from firmware.units import RATE, cents_of

TICK = RATE // 20


class Desk:
    """A box, its clock, and the records of its log."""

    def __init__(self, plan: Plan | None = None, number: int = 42, **values: Value) -> None:
        kept = DEFAULTS
        for name, value in values.items():
            kept = kept.put(name, value)
        self.box = Box(Start(kept, plan or Plan(), number=number, stick=True))
        self.at = 0
        self.records: list[dict[str, object]] = []
        self.done: list[Command] = []
        self.do(SwitchedOn(0))

    def do(self, *events: Event) -> None:
        for event in events:
            commands = self.box.handle(event)
            self.done += commands
            lines = (c.line for c in commands if isinstance(c, AppendLine) and c.path.endswith("log.jsonl"))
            self.records += [json.loads(line) for line in lines]

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds * 20)):
            self.at += TICK
            self.do(Tick(self.at))

    def tap(self, key: PanelKey) -> None:
        self.do(KeyDown(self.at, key), KeyUp(self.at + 100, key))

    def begin(self, drill: str) -> None:
        names = ["settle", "which-is-it", "match", "balance"]
        here = names.index(str(self.box.view(self.at).values["chosen_drill"]))
        self.do(Adjusted(self.at, "chosen_drill", names.index(drill) - here), Adjusted(self.at, "drill_run", 1))

    @property
    def run(self):
        return self.box.state_of("drills").run

    def told(self, what: str) -> list[dict[str, object]]:
        return [record for record in self.records if record["what"] == what]


def cents(desk: Desk) -> list[float]:
    tones = desk.box.sound.drone.tones
    return [cents_of(tone.hz / tones[0].hz) for tone in tones]


def offs(records: Iterable[dict[str, object]]) -> list[object]:
    return [record["off"] for record in records]


def test_settle_by_knob_and_pedal_from_the_panel_alone():
    desk = Desk(group="Clarinets", group_number=2, drill_rounds=2)
    desk.do(KnobDown(1), KnobTurn(2, -1), KnobUp(3))
    assert desk.box.view(3).page == "drill"
    desk.do(KnobDown(4), KnobUp(5), KnobTurn(6, 1))  # next field, and turned: it begins
    view = desk.box.view(7)
    assert view.drill.running
    assert (view.drill.group, view.drill.place, view.drill.rounds) == ("Clarinets 2", 1, 2)
    assert desk.box.sound.drone.on
    for _ in range(2):
        start = desk.run.value
        assert cents(desk)[-1] == pytest.approx(1586.3137 + start, abs=0.01)
        desk.do(KnobTurn(desk.at, -round(start)))
        assert cents(desk)[-1] == pytest.approx(1586.3137 + start - round(start), abs=0.01)
        desk.wait(2)
        desk.do(PedalDown(desk.at, Pedal.RIGHT))
        assert desk.box.view(desk.at).drill.big == "just"
        desk.wait(6)
    assert desk.run is None
    assert not desk.box.sound.drone.on
    (begun,) = desk.told("drill")
    assert (begun["group"], begun["kind"], begun["rounds"]) == ("Clarinets 2", "degree 3 by the knob", 2)
    rounds = desk.told("drill-round")
    assert [one["number"] for one in rounds] == [1, 2]
    assert all(abs(one["off"]) <= 0.5 and one["degree"] == "3" and one["beats"] < 0.3 for one in rounds)
    (ended,) = desk.told("drill-ended")
    assert ended["whole"] is True
    assert desk.box.view(desk.at).drill.small == "too few to tell"


def test_the_drones_own_tones_carry_on_and_come_back():
    desk = Desk(octaves=2)
    desk.do(Wished(0, Wish.DRONE_TOGGLE))
    before = desk.box.sound.drone
    desk.begin("settle")
    during = {tone.hz for tone in desk.box.sound.drone.tones}
    assert {tone.hz for tone in before.tones} < during  # the same bits: they sound on unbroken
    desk.tap(PanelKey.EAR)
    assert desk.run is None
    assert desk.box.sound.drone == before


def test_the_seed_is_the_rehearsal_and_the_moment():
    first, same, later, other = Desk(), Desk(), Desk(), Desk(number=43)
    later.at = 1
    for desk in (first, same, later, other):
        desk.begin("settle")
    assert first.run.asked == same.run.asked
    assert len({first.run.asked, later.run.asked, other.run.asked}) == 3


def test_which_is_it_by_the_keys():
    desk = Desk(group="Everyone")
    desk.begin("which-is-it")
    for _ in range(12):
        just = bool(desk.run.question.begins)
        desk.wait(1)
        desk.tap(PanelKey.DRONE if just else PanelKey.COMPARE)
        assert desk.run.phase is Phase.TOLD
        desk.wait(4)
    assert [one["right"] for one in desk.told("drill-round")] == [True] * 12
    assert desk.box.view(desk.at).drill.big == "12 of 12"
    assert not desk.box.view(desk.at).comparing


def test_between_two_chords_there_is_silence():
    desk = Desk()
    desk.begin("which-is-it")
    desk.do(PedalDown(desk.at, Pedal.LEFT))
    desk.wait(2.6)
    assert desk.run.phase is Phase.PAUSE
    assert not desk.box.sound.drone.on
    desk.wait(1.2)
    assert desk.box.sound.drone.on


def test_compare_held_from_before_does_not_stick():
    desk = Desk()
    desk.do(KeyDown(0, PanelKey.COMPARE))
    assert desk.box.view(0).comparing
    desk.begin("settle")
    assert not desk.box.view(1).comparing
    desk.do(KeyUp(2, PanelKey.COMPARE))
    assert desk.run.rounds == ()
    desk.tap(PanelKey.PULSE)
    assert desk.run is None
    assert not desk.box.view(3).comparing


@pytest.mark.parametrize("gesture", ["page", "ear", "replay", "pulse", "power"])
def test_anything_else_ends_it_and_means_what_it_always_does(gesture: str):
    desk = Desk(drill_rounds=5)
    desk.begin("balance")
    desk.do(PedalDown(desk.at, Pedal.RIGHT))
    if gesture == "page":
        desk.do(KnobDown(9), KnobTurn(10, 1), KnobUp(11))
        assert desk.box.view(11).page == "key"
    elif gesture == "power":
        desk.do(PowerDown(9))
    else:
        desk.tap({"ear": PanelKey.EAR, "replay": PanelKey.REPLAY, "pulse": PanelKey.PULSE}[gesture])
    assert desk.run is None
    (ended,) = desk.told("drill-ended")
    assert (ended["rounds"], ended["whole"]) == (1, False)
    if gesture == "ear":
        assert desk.box.view(12).ear == "watch"
    if gesture == "pulse":
        assert desk.box.view(12).pulse_on


def test_a_slow_finger_on_drone_is_an_answer_and_one_only():
    desk = Desk()
    desk.begin("which-is-it")
    desk.do(KeyDown(desk.at, PanelKey.DRONE))
    desk.wait(1.0)
    desk.do(KeyUp(desk.at, PanelKey.DRONE))
    assert [one["said"] for one in desk.told("drill-round")] == ["just"]
    assert desk.run.phase is Phase.TOLD


def test_a_take_may_run_through_a_drill():
    desk = Desk()
    desk.begin("settle")
    desk.tap(PanelKey.TAKE)
    assert desk.run is not None


def test_the_knob_turns_no_key_meanwhile_and_does_again_after():
    desk = Desk(drill_rounds=1)
    desk.begin("settle")
    desk.do(KnobTurn(5, 3))
    assert desk.box.view(6).tonic == "B♭"
    desk.wait(6)
    assert desk.box.view(desk.at).cursor == "chosen_drill" or desk.box.view(desk.at).page == "drill"
    desk.do(PedalDown(desk.at, Pedal.RIGHT))
    desk.wait(6)
    assert desk.run is None
    desk.wait(6)
    desk.do(KnobTurn(desk.at, 1))
    assert desk.box.view(desk.at).tonic == "F"


def test_the_ear_listens_for_a_match_and_goes_back():
    desk = Desk(match_seconds=1, match_within=10)
    desk.begin("match")
    assert [c.on for c in desk.done if isinstance(c, Listen)] == [True]
    assert (desk.box.view(1).drill.degree, desk.box.view(1).drill.note) == ("1", "B♭")
    for place in range(8):
        while desk.run.phase is not Phase.OPEN:
            desk.wait(0.05)
        harmony, asked = desk.run.task.harmony, desk.run.question.semitones
        target = harmony.hz_of(3, harmony.scheme().interval(harmony.key, asked))
        for _ in range(120):
            desk.at += RATE // 50
            desk.do(Heard(desk.at, target * 2 ** (3 / 1200), 0.9, -30.0))
            if len(desk.told("drill-round")) > place:
                break
    assert desk.run is None
    assert [c.on for c in desk.done if isinstance(c, Listen)] == [True, False]
    assert offs(desk.told("drill-round")) == pytest.approx([3.0] * 8, abs=0.01)
    assert [one["degree"] for one in desk.told("drill-round")] == ["1", "2", "3", "4", "5", "6", "7", "1"]


def test_a_match_names_the_note_as_the_section_reads_it():
    desk = Desk(reading="clarinet")
    desk.begin("match")
    assert (desk.box.view(1).drill.degree, desk.box.view(1).drill.note) == ("1", "C")


def test_the_box_does_not_answer_during_a_drill():
    desk = Desk()
    desk.tap(PanelKey.EAR)
    desk.tap(PanelKey.EAR)
    assert desk.box.view(1).ear == "answer"
    desk.begin("settle")
    assert desk.box.view(2).ear == "watch"
    desk.tap(PanelKey.PULSE)
    assert desk.box.view(3).ear == "answer"


def test_a_tap_of_ear_goes_on_from_where_the_ear_was():
    desk = Desk()
    desk.begin("match")
    assert desk.box.view(1).ear == "watch"
    desk.tap(PanelKey.EAR)
    assert desk.box.view(2).ear == "watch"
    assert desk.run is None


def test_nobody_heard_is_said_and_nothing_kept():
    desk = Desk(settle_by="player")
    desk.begin("settle")
    desk.wait(4)
    desk.do(PedalDown(desk.at, Pedal.RIGHT))
    assert desk.told("drill-round") == []
    assert "Not heard" in desk.box.view(desk.at).message


def test_a_step_of_the_plan_begins_a_drill_in_its_own_key():
    steps = (
        PlanStep("Thirds", (("tonic", "Eb"), ("group", "Horns"), ("drill_rounds", 1)), drill="settle"),
        PlanStep("On", (("tonic", "F"),)),
    )
    desk = Desk(Plan("p", steps))
    desk.do(PedalDown(1, Pedal.RIGHT))
    assert desk.run.task.harmony.key.tonic.text == "E♭"
    assert desk.box.view(2).page == "drill"
    assert desk.box.view(2).drill.group == "Horns"
    desk.do(PedalDown(3, Pedal.RIGHT))  # now it rests
    assert desk.run.phase is Phase.TOLD
    desk.do(PedalDown(4, Pedal.RIGHT))  # that was the last round
    assert desk.run is None
    desk.do(PedalDown(5, Pedal.RIGHT))
    assert desk.box.view(6).tonic == "F"


def test_another_key_ends_a_drill():
    desk = Desk()
    desk.begin("which-is-it")
    desk.do(Adjusted(5, "tonic", 1))
    assert desk.run is None


def test_beginning_again_begins_anew_and_left_of_begin_ends():
    desk = Desk()
    desk.begin("settle")
    first = desk.run
    desk.at = 10
    desk.do(Adjusted(10, "drill_run", 1))
    assert desk.run.asked != first.asked
    desk.do(Adjusted(11, "drill_run", -1))
    assert desk.run is None
    assert len(desk.told("drill-ended")) == 2


def test_answers_without_a_drill_mean_nothing():
    desk = Desk()
    desk.do(Wished(1, Wish.DRILL_NOW), Wished(1, Wish.DRILL_LEAVE), Adjusted(1, "drill_slide", 3))
    assert desk.run is None


def test_drills_are_just_whatever_tuning_is_set():
    desk = Desk(tuning="equal")
    desk.begin("settle")
    assert cents(desk)[-1] == pytest.approx(1586.3137 + desk.run.value, abs=0.01)
    assert cents(desk)[2] == pytest.approx(1901.955, abs=0.01)


def test_notes_of_a_drill_have_no_beats_against_rungs_that_do_not_sound():
    desk = Desk(shape="triad")
    desk.do(Wished(0, Wish.DRONE_TOGGLE))
    desk.begin("match")
    desk.wait(2)
    desk.do(Heard(desk.at, 293.66, 0.9, -30.0))
    assert desk.box.view(desk.at).heard.beats is None
    desk.tap(PanelKey.PULSE)
    desk.tap(PanelKey.EAR)
    desk.do(Heard(desk.at, 293.66, 0.9, -30.0))
    assert desk.box.view(desk.at).heard.beats is not None


def test_a_replay_ends_where_a_drill_begins():
    desk = Desk()
    desk.tap(PanelKey.TAKE)
    desk.at = RATE
    desk.tap(PanelKey.TAKE)
    desk.do(TakeSaved(desk.at + 200, 1, RATE))
    desk.at += 1000
    desk.tap(PanelKey.REPLAY)
    assert desk.box.sound.replay.on
    desk.at += 1000
    desk.begin("settle")
    assert not desk.box.sound.replay.on
    assert desk.run is not None
