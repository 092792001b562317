"""The answer part: what it answers, how it goes over to another degree, and when it falls silent."""

from __future__ import annotations

import pytest

from firmware.events import Adjusted, Event, HarmonyChanged, PlanStepped, PowerDown, SettingChanged, Tick
from firmware.heard_events import AnswerGiven, Answering, AnswerSwitched, Heard
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.parts.answer import AGREEING, ANSWER, SAME_CENTS, UNHEARD, UNTOLD, AnswerState
from firmware.parts.part import Start, address_of
from firmware.settings import DEFAULTS
from firmware.sound.snapshot import AnswerSound
from firmware.units import ratio_of

HARMONY = Harmony(key_of("Bb", "major"))
TONIC = 440.0 * 2 ** (1 / 12) / 2
"""B♭3 at A4 = 440 Hz."""

THIRD = TONIC * 5 / 4
SECOND = TONIC * 9 / 8
HOP = 1920


def run(*events: Event, state: AnswerState | None = None) -> tuple[AnswerState, list[object]]:
    state = state or ANSWER.start(Start())
    follow: list[object] = []
    for event in events:
        state, more = ANSWER.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def ready(octave: str = "same") -> AnswerState:
    state = ANSWER.start(Start(values=DEFAULTS.put("answer_octave", octave)))
    return run(HarmonyChanged(0, HARMONY, tones_of(HARMONY), sounding=False), AnswerSwitched(0, on=True), state=state)[
        0
    ]


def heard(hz: float | None, at: int, why: str = "") -> Heard:
    return Heard(at, hz, 0.9 if hz else 0.0, -25.0, why)


def notes(hz: float, count: int, first: int = HOP) -> list[Heard]:
    return [heard(hz, first + n * HOP) for n in range(count)]


def sound(state: AnswerState) -> AnswerSound | None:
    found = ANSWER.sound(state).get("answer")
    assert found is None or isinstance(found, AnswerSound)
    return found


def answering(octave: str = "same") -> AnswerState:
    state, follow = run(*notes(THIRD * ratio_of(20), AGREEING), state=ready(octave))
    assert [type(one) for one in follow] == [Answering]
    return state


@pytest.mark.parametrize("cents", [-30.0, -20.0, 0.0, 0.3, 20.0, 45.0])
def test_it_sounds_the_just_target_however_the_player_is_off(cents: float) -> None:
    state, follow = run(*notes(THIRD * ratio_of(cents), AGREEING), state=ready())
    found = sound(state)
    assert found is not None
    assert found.hz == pytest.approx(THIRD, rel=1e-12)
    (told,) = follow
    assert isinstance(told, Answering)
    assert (told.degree, told.note and told.note.text) == ("3", "D4")


def test_one_reading_is_not_enough() -> None:
    assert sound(run(*notes(THIRD, AGREEING - 1), state=ready())[0]) is None
    wavering = [heard(THIRD, HOP), heard(TONIC, 2 * HOP), heard(THIRD, 3 * HOP), heard(SECOND, 4 * HOP)]
    assert sound(run(*wavering, state=ready())[0]) is None


def test_readings_before_it_is_switched_on_count_for_nothing() -> None:
    state, _ = run(HarmonyChanged(0, HARMONY, (), sounding=False), *notes(THIRD, 9))
    assert sound(state) is None
    assert sound(run(AnswerSwitched(0, on=True), *notes(THIRD, 9), state=ANSWER.start(Start()))[0]) is None


def test_octave_and_level_are_those_that_are_set() -> None:
    state, follow = run(Adjusted(1, "answer_level", -3), state=answering("lower"))
    assert sound(state) == AnswerSound(on=True, hz=sound(state).hz, octave="lower", level_db=-21.0)  # type: ignore[union-attr]  # it sounds
    assert follow == [SettingChanged(1, "answer_level", -21.0)]
    state, _ = run(PlanStepped(2, 1, "x", (("answer_octave", "same"),)), state=state)
    assert sound(state).octave == "same"  # type: ignore[union-attr]  # it sounds


def test_the_lowest_notes_are_answered_in_their_own_octave() -> None:
    low = TONIC / 4
    state, _ = run(*notes(low, AGREEING), state=ready("lower"))
    assert sound(state) == AnswerSound(on=True, hz=sound(state).hz, octave="same", level_db=-18.0)  # type: ignore[union-attr]  # it sounds


def test_notes_too_high_to_be_heard_through_an_answer_are_not_answered() -> None:
    assert sound(run(*notes(3000.0, 9), state=ready())[0]) is None


def test_a_player_who_moves_about_keeps_the_answer() -> None:
    state = answering()
    for number in range(30):
        off = SAME_CENTS * 0.95 * (-1) ** number
        state, follow = run(heard(THIRD * ratio_of(off), (5 + number) * HOP), state=state)
        assert follow == []
    assert sound(state).hz == pytest.approx(THIRD)  # type: ignore[union-attr]  # it sounds


def test_it_goes_over_to_another_degree_and_tells_of_both() -> None:
    first = AGREEING + 1
    state, follow = run(*notes(SECOND, AGREEING, first * HOP), state=answering())
    assert sound(state).hz == pytest.approx(SECOND)  # type: ignore[union-attr]  # it sounds
    ended, given, begun = follow
    assert ended == Answering((first + AGREEING - 1) * HOP)
    assert isinstance(given, AnswerGiven)
    assert (given.degree, given.concert, given.octave, given.why) == ("3", "D4", "same", "another note")
    assert given.start == AGREEING * HOP
    assert begun.degree == "2"  # type: ignore[attr-defined]  # an Answering


def test_it_falls_silent_with_the_player_at_once() -> None:
    state, follow = run(heard(None, 10 * HOP, "silence"), state=answering())
    assert sound(state) is None
    assert follow[1].why == "silence"  # type: ignore[attr-defined]  # an AnswerGiven


def test_it_waits_a_moment_while_the_ear_can_not_tell_and_no_longer() -> None:
    state = answering()
    last = AGREEING * HOP
    assert sound(run(heard(None, last + UNTOLD, "noise"), state=state)[0]) is not None
    assert sound(run(heard(None, last + UNTOLD + 1, "own sound"), state=state)[0]) is None
    # Readings of something else, which never agree, confirm nothing.
    other = [heard(hz, last + HOP * n) for n, hz in enumerate((SECOND, TONIC, SECOND, TONIC, SECOND, TONIC), 1)]
    assert sound(run(*other, state=state)[0]) is None


def test_it_ends_when_no_readings_come_any_more() -> None:
    last = AGREEING * HOP
    assert sound(run(Tick(last + UNHEARD), state=answering())[0]) is not None
    assert sound(run(Tick(last + UNHEARD + 1), state=answering())[0]) is None


def test_a_new_key_gives_the_same_pitch_a_new_target() -> None:
    other = Harmony(key_of("G", "major"))
    state, follow = run(HarmonyChanged(99, other, tones_of(other), sounding=True), state=answering())
    fifth_of_g = 440.0 * 2 ** (-2 / 12) * 3 / 4
    assert sound(state).hz == pytest.approx(fifth_of_g)  # type: ignore[union-attr]  # it sounds
    assert follow[0].degree == "5"  # type: ignore[attr-defined]  # an Answering
    assert run(HarmonyChanged(100, other, (), sounding=False), state=state)[1] == []


def test_it_ends_when_it_is_switched_off_or_the_rehearsal_ends() -> None:
    for event in (AnswerSwitched(9, on=False), PowerDown(9)):
        state, follow = run(event, state=answering())
        assert sound(state) is None
        assert isinstance(follow[1], AnswerGiven)
    assert sound(run(AnswerSwitched(9, on=False), *notes(THIRD, 9), state=answering())[0]) is None
