"""Balance: the third's level, from a random start to where the class wants it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from firmware.drills.balance import BALANCE, OFF_DB
from firmware.drills.course import answered, begun, turned
from firmware.drills.drill import Answer, Phase, Task
from firmware.units import RATE

MakeTask = Callable[..., Task]


def third_db(tones: tuple[tuple[float, float], ...]) -> float:
    return tones[1][1] - tones[0][1]


def test_the_third_begins_too_loud_or_too_soft(task: MakeTask):
    run = begun(BALANCE, task(), 0)
    assert all(OFF_DB[0] <= abs(one.begins) <= OFF_DB[1] for one in run.asked)
    # The level that is aimed at is the setting's: 3 dB under the root (a third a little under: common practice).
    assert third_db(BALANCE.tones(run)) == pytest.approx(-3.0 + run.value)


def test_the_result_is_against_the_stated_level(task: MakeTask):
    run = turned(begun(BALANCE, task(), 0), -round(begun(BALANCE, task(), 0).value))
    run = turned(run, 2)
    told = answered(run, Answer.EQUAL, 2 * RATE)
    assert told.rounds[0].off == pytest.approx(run.value)
    assert 1.4 < run.value < 2.6
    assert BALANCE.tells(told) == (f"{round(run.value)} dB loud", "third aimed at −3 dB")
    assert third_db(BALANCE.tones(told)) == pytest.approx(-3.0)
    assert BALANCE.tells(answered(replace(run, value=-4.2), Answer.NOW, RATE))[0] == "4 dB soft"
    assert BALANCE.tells(answered(replace(run, value=0.3), Answer.NOW, RATE))[0] == "there"


def test_root_and_fifth_go_on_between_the_rounds(task: MakeTask):
    run = begun(BALANCE, task(), 0)
    between = {hz for hz, _ in BALANCE.tones(replace(run, phase=Phase.PAUSE))}
    assert len(between) == 4
    assert between < {hz for hz, _ in BALANCE.tones(run)}
