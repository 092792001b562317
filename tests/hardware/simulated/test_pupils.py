"""A simulated class: it has the knob moved until its ears are content, says which, and can be deaf."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from firmware.drills import drill_named
from firmware.drills.course import answered, begun, passed, turned
from firmware.drills.drill import Answer, Phase, Run, Task
from firmware.events import Event, KeyDown, KnobTurn, PanelKey, PedalDown
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.units import RATE
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.pupils import Pupils, SchoolClass

ANSWERS = {PanelKey.DRONE: Answer.JUST, PanelKey.COMPARE: Answer.EQUAL}


class Lesson:
    """A class on a panel, and a drill that its panel moves."""

    def __init__(self, drill: str, *pupils: Pupils, seed: int = 3) -> None:
        self.now = 0
        self.run: Run | None = begun(drill_named(drill), Task(Harmony(key_of("C")), seed, rounds=4), 0)
        self.panel = SimulatedPanel()
        self.panel.start(self.take, lambda: self.now)
        self.pupils = SchoolClass(self.panel, pupils, lambda: self.run)

    def take(self, event: Event) -> None:
        assert self.run is not None
        if isinstance(event, KnobTurn):
            self.run = turned(self.run, event.steps)
        elif isinstance(event, PedalDown):
            self.run = answered(self.run, Answer.NOW, event.at)
        elif isinstance(event, KeyDown):
            self.run = answered(self.run, ANSWERS[event.key], event.at)

    def held(self, seconds: float) -> Run:
        for _ in range(round(seconds * 20)):
            self.now += RATE // 20
            assert self.run is not None
            self.run = passed(self.run, self.now)
            if self.run.phase is Phase.DONE:
                break
            self.pupils.pump(self.now)
            self.panel.pump(self.now)
        return self.run


def test_a_class_rests_within_what_it_hears():
    run = Lesson("settle", Pupils(0.0, hears=2.0, believes=4.0, turns=20)).held(120)
    assert run.phase is Phase.DONE
    assert all(2.0 - 1e-9 <= (one.off or 0.0) <= 6.0 + 1e-9 for one in run.rounds)


def test_a_level_is_found_the_same_way():
    run = Lesson("balance", Pupils(0.0, hears=1.0, turns=20)).held(120)
    assert all(abs(one.off or 0.0) <= 1.0 for one in run.rounds)


@pytest.mark.parametrize(
    ("pupils", "right"),
    [
        (Pupils(0.0, hears=3.0), len),
        (Pupils(0.0, says="just"), lambda rounds: sum(one.began == 1.0 for one in rounds)),
        (Pupils(0.0, says="equal"), lambda rounds: sum(one.began == 0.0 for one in rounds)),
    ],
)
def test_a_class_says_which(pupils: Pupils, right: Callable[[tuple[object, ...]], int]):
    run = Lesson("which-is-it", pupils).held(200)
    assert run.phase is Phase.DONE
    assert sum(one.right is True for one in run.rounds) == right(run.rounds)


def test_a_class_that_cannot_hear_it_guesses():
    rights = [
        sum(one.right is True for one in Lesson("which-is-it", Pupils(0.0, hears=30.0), seed=seed).held(200).rounds)
        for seed in range(12)
    ]
    assert 50 < sum(rights) < 94  # of 144


def test_a_class_comes_in_at_its_time_and_leaves_players_alone():
    later = Lesson("settle", Pupils(5.0))
    assert later.held(4.9).rounds == ()
    later.held(60)
    assert later.run is not None
    assert later.run.rounds != ()
    assert Lesson("match", Pupils(0.0)).held(20).rounds == ()
