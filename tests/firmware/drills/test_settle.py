"""Settle: what sounds, what the class's word is worth, and what a player sounds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from firmware.drills._chords import degree_tone, from_lowest, roots, semitones_of_degree, setting_of
from firmware.drills.course import answered, begun, heard, passed, turned
from firmware.drills.drill import Answer, Phase, Task
from firmware.drills.settle import CALL_SECONDS, OFF_CENTS, SETTLE
from firmware.units import RATE, cents_of, ratio_of, samples_of

MakeTask = Callable[..., Task]


def cents_over_root(tones: tuple[tuple[float, float], ...]) -> list[float]:
    return [cents_of(hz / tones[0][0]) for hz, _ in tones]


def test_a_third_begins_off_inside_a_fifth(task: MakeTask):
    run = begun(SETTLE, task(), 0)
    offs = [one.begins for one in run.asked]
    assert all(OFF_CENTS[0] <= abs(off) <= OFF_CENTS[1] for off in offs)
    expected = [0.0, 1200.0, 1200 + 701.955, 1200 + 386.3137 + run.question.begins]
    assert cents_over_root(SETTLE.tones(run)) == pytest.approx(expected, abs=0.01)


def test_both_directions_come_about_equally_often(task: MakeTask):
    sharp = sum(one.begins > 0 for seed in range(50) for one in begun(SETTLE, task(seed=seed), 0).asked)
    assert 110 < sharp < 190  # of 300


@pytest.mark.parametrize(
    ("mode", "degree", "cents"),
    [
        ("major", 2, 203.91),
        ("major", 7, 1088.27),
        ("dorian", 3, 315.64),
        ("chromatic", 6, 884.36),
        ("major", 5, 701.955),
    ],
)
def test_degrees_follow_the_mode(task: MakeTask, mode: str, degree: int, cents: float):
    """Just degrees in cents: 9/8, 15/8, 6/5, 5/3, 3/2 (Helmholtz, On the Sensations of Tone, tr. Ellis, app. XX)."""
    made = task(mode=mode, degree=degree)
    semitones = semitones_of_degree(made)
    assert from_lowest(made, semitones).cents == pytest.approx(1200 + cents, abs=0.01)
    hz, level = degree_tone(made, semitones, 7.0)
    assert cents_of(hz / roots(made.harmony)[0][0]) == pytest.approx(1200 + cents + 7.0, abs=0.01)
    assert level < 0
    assert len(setting_of(made)) == (3 if degree == 3 else 2)


def test_the_result_is_where_the_knob_left_it(task: MakeTask):
    run = turned(begun(SETTLE, task(), 0), -round(begun(SETTLE, task(), 0).value) + 4)
    run = answered(run, Answer.NOW, 3 * RATE)
    (one,) = run.rounds
    assert one.off == pytest.approx(run.value)
    assert 3.0 < one.off < 5.0
    assert one.seconds == 3.0
    assert one.right is None
    # The lowest partials that should meet: the fifth of B♭2 and the second of the third above.
    lowest, third = 116.5409, 116.5409 * 2.5 * ratio_of(one.off)
    assert one.beats == pytest.approx(abs(2 * third - 5 * lowest), abs=0.001)
    assert cents_over_root(SETTLE.tones(run))[-1] == pytest.approx(1200 + 386.3137, abs=0.01)  # told: the just one
    assert len(SETTLE.tones(replace(run, phase=Phase.PAUSE))) == 3


def test_the_class_is_told_cents_and_beats(task: MakeTask):
    run = begun(SETTLE, task(), 0)
    just = answered(replace(run, value=0.2), Answer.NOW, RATE)
    assert SETTLE.tells(just) == ("just", "0.1 beats/s")
    flat = answered(replace(run, value=-7.6), Answer.NOW, RATE)
    assert SETTLE.tells(flat) == ("−8", "cents from just, 2.6 beats/s")
    seventh = answered(replace(begun(SETTLE, task(degree=4, mode="lydian"), 0), value=5.0), Answer.NOW, RATE)
    assert seventh.rounds[0].beats is None
    assert SETTLE.tells(seventh) == ("+5", "cents from just")


def test_a_player_takes_it_over_and_moves_it(task: MakeTask):
    run = begun(SETTLE, task(by="player"), 0)
    assert run.phase is Phase.CALL
    assert SETTLE.asks(run)[1] == "then take it over"
    assert len(SETTLE.tones(run)) == 4
    run = passed(run, samples_of(CALL_SECONDS))
    assert run.phase is Phase.OPEN
    assert len(SETTLE.tones(run)) == 3  # now only the player sounds it
    begin, third = run.since, 293.66 * 0 + 116.5409 * 2.5
    for number in range(100):
        run = heard(run, begin + number * RATE // 50, third * ratio_of(20.0 if number < 50 else -3.0))
    run = answered(run, Answer.NOW, begin + 2 * RATE)
    assert run.rounds[0].off == pytest.approx(-3.0, abs=0.01)


def test_without_a_player_the_class_can_say_nothing(task: MakeTask):
    run = passed(begun(SETTLE, task(by="player"), 0), samples_of(CALL_SECONDS))
    assert answered(run, Answer.NOW, 9 * RATE) == run
    early = heard(run, run.since + 100, 116.5409 * 2.5)
    assert answered(early, Answer.NOW, 9 * RATE) == early


def test_another_note_wipes_what_was_heard(task: MakeTask):
    run = passed(begun(SETTLE, task(by="player"), 0), samples_of(CALL_SECONDS))
    for number in range(20):
        run = heard(run, run.since + number * 900, 116.5409 * 2.5)
    assert len(run.heard) == 20
    assert heard(run, run.since + 20 * 900, 116.5409 * 2.25).heard == ()
