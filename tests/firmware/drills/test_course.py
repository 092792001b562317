"""The course of a drill: phases, answers, readings, ends."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from firmware.drills import DRILLS, drill_named
from firmware.drills.course import answered, begun, heard, off_target, passed, turned
from firmware.drills.drill import Answer, Phase, Run, Task
from firmware.errors import UnknownNameError
from firmware.units import RATE, ratio_of, samples_of

MakeTask = Callable[..., Task]


def through(run: Run, at: int, answer: Answer) -> tuple[Run, int]:
    """Answer each question a second after it was asked, until the drill is over."""
    for _ in range(2000):
        if run.phase is Phase.DONE:
            return run, at
        at += RATE // 4
        run = passed(run, at)
        if run.phase is Phase.OPEN and at - run.since >= RATE:
            run = answered(run, answer, at)
    raise AssertionError("the drill has no end")


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_every_drill_ends_after_its_rounds(drill, task: MakeTask):
    run = begun(drill, task(rounds=3), 1000)
    asked = len(run.asked)
    run, _ = through(run, 1000, Answer.JUST)
    assert len(run.rounds) == asked
    assert all(one.seconds >= 1.0 for one in run.rounds)


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_the_same_seed_asks_the_same(drill, task: MakeTask):
    assert begun(drill, task(seed=5), 0).asked == begun(drill, task(seed=5), 0).asked
    if drill.name != "match":
        assert begun(drill, task(seed=5), 0).asked != begun(drill, task(seed=6), 0).asked


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_words_are_there_in_every_phase_and_give_no_figure_away(drill, task: MakeTask):
    run = begun(drill, task(), 0)
    big, small = drill.asks(run)
    assert big
    assert small
    assert str(round(abs(run.question.begins))) not in big + small or not run.question.begins
    over, _ = through(run, 0, Answer.EQUAL)
    assert all(drill.sums(over))
    assert all(drill.tells(over))
    assert drill.kind(run.task)


def test_a_drill_of_no_name_is_refused():
    assert drill_named("match").name == "match"
    with pytest.raises(UnknownNameError):
        drill_named("whistle")


def test_the_knob_moves_only_what_is_asked_and_stops_at_the_ends(task: MakeTask):
    settle = begun(drill_named("settle"), task(), 0)
    assert turned(settle, 3).value == settle.value + 3
    assert turned(settle, 999).value == 60.0
    assert turned(settle, -999).value == -60.0
    told = answered(settle, Answer.NOW, RATE)
    assert told.phase is Phase.TOLD
    assert turned(told, 3) == told
    which = begun(drill_named("which-is-it"), task(), 0)
    assert turned(which, 3) == which


def test_an_answer_while_a_round_is_told_goes_on(task: MakeTask):
    run = answered(begun(drill_named("settle"), task(), 0), Answer.NOW, RATE)
    run = answered(run, Answer.NOW, RATE + 100)
    assert run.phase is Phase.PAUSE
    assert answered(run, Answer.NOW, RATE + 200) == run
    run = passed(run, RATE + 100 + samples_of(0.8))
    assert (run.phase, run.place) == (Phase.OPEN, 1)


def test_a_pitch_is_measured_in_whichever_octave(task: MakeTask):
    run = begun(drill_named("settle"), task(by="player"), 0)
    target = run.task.harmony.hz_of(4, run.task.harmony.key.mode.tones[4].interval)
    for octave in (-2, -1, 0, 1):
        assert off_target(run, target * 2.0**octave * ratio_of(-13.0)) == pytest.approx(-13.0, abs=1e-6)


def test_readings_count_only_while_the_class_is_asked(task: MakeTask):
    run = begun(drill_named("match"), task(), 0)
    assert run.phase is Phase.CALL
    assert heard(run, 100, 233.08) == run
    run = passed(run, samples_of(1.5))
    assert run.phase is Phase.OPEN
    assert heard(run, 100, 233.08) == run  # a reading of the time before
    assert len(heard(run, samples_of(1.6), 233.08).heard) == 1
    knob = begun(drill_named("settle"), task(), 0)
    assert heard(knob, 100, 233.08) == knob


def test_memory_does_not_grow_with_the_time(task: MakeTask):
    run = passed(begun(drill_named("match"), task(within=2.0), 0), samples_of(1.5))
    hop = RATE // 50
    for number in range(60 * 50):
        run = heard(run, samples_of(1.5) + number * hop, 233.08 * ratio_of(20.0))
    assert 550 < len(run.heard) < 650
