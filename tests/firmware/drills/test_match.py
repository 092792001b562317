"""Match: a player holds each degree of the scale, and the drill moves on by itself."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from firmware.drills.course import answered, begun, heard, passed
from firmware.drills.drill import Answer, Phase, Run, Task
from firmware.drills.match import MATCH
from firmware.music.harmony import intervals_of
from firmware.units import RATE, cents_of, ratio_of, samples_of

MakeTask = Callable[..., Task]
HOP = RATE // 50


def asked_hz(run: Run, cents: float = 0.0) -> float:
    """The degree that is asked, in the octave of the tonic above B♭3, so many cents off."""
    (interval,) = intervals_of(run.task.harmony, run.question.semitones)
    return run.task.harmony.hz_of(3, interval) * ratio_of(cents)


def play(run: Run, at: int, seconds: float, cents: Callable[[float], float]) -> tuple[Run, int]:
    """A player sounds the asked degree for some seconds, `cents` off at each moment."""
    place = run.place
    for step in range(round(seconds * RATE / HOP)):
        at += HOP
        run = passed(run, at)
        if run.place == place and run.phase is Phase.OPEN:
            run = heard(run, at, asked_hz(run, cents(step * HOP / RATE)))
    return run, at


def opened(run: Run) -> tuple[Run, int]:
    at = run.since + samples_of(1.5)
    return passed(run, at), at


def test_it_asks_for_the_scale_up_to_the_octave(task: MakeTask):
    assert [one.semitones for one in begun(MATCH, task(), 0).asked] == [0, 2, 4, 5, 7, 9, 11, 12]
    assert [one.semitones for one in begun(MATCH, task(mode="dorian"), 0).asked] == [0, 2, 3, 5, 7, 9, 10, 12]
    assert len(begun(MATCH, task(mode="chromatic"), 0).asked) == 13


def test_the_target_sounds_in_the_call_alone(task: MakeTask):
    run = begun(MATCH, task(), 0)
    assert len(MATCH.tones(run)) == 3
    assert cents_of(MATCH.tones(run)[-1][0] / MATCH.tones(run)[0][0]) == pytest.approx(1200.0, abs=0.01)
    run, at = opened(run)
    assert MATCH.tones(run) == ()  # a player on the tonic could not be told from the box's own
    run = passed(answered(run, Answer.NOW, at), at + RATE)
    assert len(MATCH.tones(run)) == 3
    assert len(MATCH.tones(opened(run)[0])) == 2


def test_a_held_note_moves_it_on_by_itself(task: MakeTask):
    run, at = opened(begun(MATCH, task(within=10.0, seconds=3.0), 0))
    run, at = play(run, at, 2.9, lambda _: 4.0)
    assert run.place == 0
    run, at = play(run, at, 2.0, lambda _: 4.0)
    assert run.place == 1
    (one,) = run.rounds
    assert one.right is True
    assert one.off == pytest.approx(4.0, abs=0.01)
    assert 3.0 <= one.seconds <= 3.6


@pytest.mark.parametrize("off", [10.6, -12.0, 30.0])
def test_a_note_outside_never_holds(task: MakeTask, off: float):
    run, at = opened(begun(MATCH, task(within=10.0, seconds=2.0), 0))
    run, _ = play(run, at, 10.0, lambda _: off)
    assert run.place == 0
    assert run.rounds == ()


def test_a_vibrato_about_the_target_holds(task: MakeTask):
    run, at = opened(begun(MATCH, task(within=10.0, seconds=2.0), 0))
    run, _ = play(run, at, 4.0, lambda t: 18.0 * math.sin(2 * math.pi * 5.5 * t))
    assert run.place == 1
    assert abs(run.rounds[0].off or 99.0) < 4.0


def test_leaving_the_target_begins_the_time_anew(task: MakeTask):
    run, at = opened(begun(MATCH, task(within=10.0, seconds=3.0), 0))
    run, at = play(run, at, 7.0, lambda t: 25.0 if 2.0 < t < 2.5 else 0.0)
    assert run.place == 1
    assert 5.4 < run.rounds[0].seconds < 6.2


def test_a_breath_begins_the_time_anew(task: MakeTask):
    run, at = opened(begun(MATCH, task(within=10.0, seconds=3.0), 0))
    run, at = play(run, at, 2.0, lambda _: 0.0)
    run, at = play(run, at + RATE // 2, 2.0, lambda _: 0.0)
    assert run.rounds == ()
    run, at = play(run, at, 1.5, lambda _: 0.0)
    assert len(run.rounds) == 1


def test_the_ringing_of_the_call_does_not_count(task: MakeTask):
    run, at = opened(begun(MATCH, task(within=10.0, seconds=1.0), 0))
    run, _ = play(run, at, 1.3, lambda _: 0.0)
    assert run.rounds == ()


def test_a_degree_can_be_left_out(task: MakeTask):
    run, at = opened(begun(MATCH, task(), 0))
    run = answered(run, Answer.NOW, at + RATE)
    assert run.phase is Phase.PAUSE
    assert run.rounds[0].right is False
    assert run.rounds[0].off is None
