"""Which is it: twelve chords, drawn each for itself, silence between them, and a class that is right or wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from firmware.drills._drawing import away, drawn
from firmware.drills._sums import counted, middle
from firmware.drills.balance import BALANCE
from firmware.drills.course import answered, begun
from firmware.drills.drill import Answer, Phase, Round, Task
from firmware.drills.which import ROUNDS, WHICH
from firmware.units import RATE, cents_of

MakeTask = Callable[..., Task]


def test_twelve_rounds_and_both_sorts(task: MakeTask):
    counts = [sum(one.begins for one in begun(WHICH, task(seed=seed), 0).asked) for seed in range(200)]
    assert all(0 <= count <= ROUNDS for count in counts)
    assert 5.6 < sum(counts) / len(counts) < 6.4
    assert len(set(counts)) > 5  # not always six of each: the last ones can't be reckoned out


def test_the_two_sound_13_7_cents_apart_in_the_third(task: MakeTask):
    run = begun(WHICH, task(), 0)
    sounds = {}
    for begins in (0.0, 1.0):
        run = replace(run, asked=(replace(run.asked[0], begins=begins),))
        tones = WHICH.tones(run)
        sounds[begins] = [hz for hz, _ in tones]
        assert WHICH.tones(replace(run, phase=Phase.PAUSE)) == ()
    off = [cents_of(equal / just) for equal, just in zip(sounds[0.0], sounds[1.0], strict=True)]
    # Common practice: the root the same, the third 13.7 cents higher, the fifth 2 cents lower.
    assert off == pytest.approx([0.0, 13.69, -1.96] * 2, abs=0.01)


def test_shapes_with_a_third_are_kept(task: MakeTask):
    made = task()
    seventh = replace(made, harmony=replace(made.harmony, shape="seventh"))
    assert len(WHICH.tones(begun(WHICH, seventh, 0))) == 8
    assert len(WHICH.tones(begun(WHICH, made, 0))) == 6


@pytest.mark.parametrize("answer", [Answer.JUST, Answer.EQUAL])
def test_what_the_class_says_is_right_or_wrong(task: MakeTask, answer: Answer):
    run = begun(WHICH, task(), 0)
    truth = Answer.JUST if run.question.begins else Answer.EQUAL
    told = answered(run, answer, RATE)
    assert told.rounds[0].right is (answer is truth)
    assert told.rounds[0].said == answer.value
    assert WHICH.tells(told) == (truth.value, "as you said" if answer is truth else f"you said {answer.value}")


def test_now_is_no_answer_here(task: MakeTask):
    run = begun(WHICH, task(), 0)
    assert answered(run, Answer.NOW, RATE) == run


def test_chance_comes_from_the_seed_alone():
    assert drawn(3, 4) == drawn(3, 6)[:4]
    assert drawn(3, 4) != drawn(4, 4)
    numbers = drawn(11, 2000)
    assert all(0 <= number < 1 for number in numbers)
    assert 0.47 < sum(numbers) / len(numbers) < 0.53


@pytest.mark.parametrize(("chance", "off"), [(0.0, 4.0), (0.25, 8.0), (0.499999, 12.0), (0.5, -4.0), (0.999999, -12.0)])
def test_a_distance_lies_on_either_side(chance: float, off: float):
    assert away(chance, 4.0, 12.0) == off


def test_a_sum_says_when_there_are_too_few(task: MakeTask):
    run = begun(BALANCE, task(), 0)
    rounds = tuple(Round(4, 5.0, off, 1.0, right=off < 0) for off in (-2.2, -3.0, 5.0, -1.8))
    assert middle(replace(run, rounds=rounds[:1]), "dB") == ("1 round", "too few to tell")
    assert middle(replace(run, rounds=rounds), "dB") == ("−2 dB", "middle of 4")
    assert middle(replace(run, rounds=tuple(Round(4, 5.0, 0.1, 1.0) for _ in range(3))), "dB")[0] == "0 dB"
    assert counted(replace(run, rounds=rounds), "right") == ("3 of 4", "right")
