"""The part that holds own tunings: degrees moved by the knob, names, what is saved and when."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.commands import AppendLine, LookAtStick, WriteText
from firmware.events import (
    Adjusted,
    Event,
    HarmonyChanged,
    Noticed,
    PowerDown,
    StickListed,
    SwitchedOn,
    Tick,
    TuningsKnown,
)
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.parts.part import Start, address_of
from firmware.parts.tunings import CENTS, KEPT_AS, MOST, REST, TONE, TUNINGS, TuningsState
from firmware.plan.tuning_file import OwnTuning, own_from, read_tuning, write_tuning
from firmware.take_events import StickChanged

HALL = OwnTuning("hall", "Hall", intervals=("", "", "", "5/4 - 2 cents", "", "", "3/2", "", "", "", ""))
PIPES = OwnTuning("pipes", "Pipes", fixed=True)


def harmony(tuning: str = "just", own: OwnTuning | None = None, tonic: str = "Bb") -> HarmonyChanged:
    held = Harmony(key_of(tonic), own.name if own else tuning, own=own.tuning if own else None)
    return HarmonyChanged(0, held, (), sounding=True)


def run(*events: Event, start: Start | None = None) -> tuple[TuningsState, tuple[Any, ...]]:
    """The state after some events, and what followed from the last; the drone follows what is chosen."""
    state, follow = TUNINGS.start(start or Start(stick=True)), ()
    for event in events:
        if isinstance(event, Adjusted) and event.field not in TUNINGS.fields:
            continue
        state, follow = TUNINGS.handlers[address_of(event)](state, event)
        known = next((one for one in follow if isinstance(one, TuningsKnown) and one.chosen), None)
        if known is not None:
            own = next(one for one in state.own if one.name == known.chosen)
            before = state.harmony
            assert before is not None
            state, _ = TUNINGS.handlers[HarmonyChanged](state, harmony(own=own, tonic=before.key.tonic.plain))
    return state, follow


def writes(follow: tuple[Any, ...]) -> list[str]:
    return [one.path for one in follow if isinstance(one, WriteText)]


def test_what_the_stick_had_is_told_when_the_box_is_switched_on() -> None:
    assert run(SwitchedOn(0))[1] == ()
    _, follow = run(SwitchedOn(0), start=Start(stick=True, tunings=(HALL,)))
    assert [tuning.name for tuning in follow[0].tunings] == ["hall"]


def test_the_first_turn_makes_a_tuning_of_what_sounds() -> None:
    state, follow = run(harmony(), Adjusted(5, CENTS, -3))
    assert follow[0].chosen == "own 1"
    (own,) = state.own
    assert (own.intervals[3], own.intervals[6]) == ("5/4 - 3 cents", "3/2")
    assert TUNINGS.show(state, 5) == {
        "own_degree": "3",
        "own_note": "D",
        "own_cents": pytest.approx(383.314, abs=1e-3),
        "own_equal": 400.0,
        "own_name": "own 1",
    }
    assert TUNINGS.show(run()[0], 0) == {}
    assert TUNINGS.show(run(harmony())[0], 0)["own_name"] == ""


def test_before_there_is_a_harmony_nothing_can_be_tuned() -> None:
    assert run(Adjusted(0, CENTS, 1))[1] == ()


def test_a_tuning_that_counts_from_c_stays_so() -> None:
    state, _ = run(harmony("werckmeister-3", tonic="D"), Adjusted(1, CENTS, 2))
    (own,) = state.own
    assert own.fixed
    # The third of D is F♯, six semitones above C, which is 1024/729 in Werckmeister III.
    assert own.intervals[5] == "1024/729 + 2 cents"


def test_the_tone_that_all_count_from_and_the_neighbours_are_limits() -> None:
    fixed = harmony(own=PIPES, tonic="D")
    state, follow = run(fixed, Adjusted(1, TONE, 6), Adjusted(2, CENTS, 1), start=Start(tunings=(PIPES,)))
    assert (state.tone, follow) == (10, (Noticed(2, "tuning-limit"),))
    assert run(harmony(), Adjusted(1, CENTS, 400))[1] == (Noticed(1, "tuning-limit"),)
    assert run(harmony(), Adjusted(1, TONE, -4))[0].tone == 11


def test_it_is_saved_when_the_knob_rests_with_the_one_before_beside_it() -> None:
    turned = (harmony(), Adjusted(5, CENTS, -3))
    assert run(*turned, Tick(REST))[1] == ()
    state, follow = run(*turned, Tick(REST + 5))
    assert writes(follow) == ["tunings/own 1.toml"]
    assert follow[-1] == Noticed(REST + 5, "tuning-kept", (("name", "own 1"),))
    assert read_tuning(follow[0].text, "x", "own 1") == (state.own[0], ())
    assert run(*turned, Tick(REST + 5), Tick(2 * REST))[1] == ()
    again = (*turned, Tick(REST + 5), Adjusted(REST + 9, CENTS, 1))
    _, more = run(*again, PowerDown(REST + 10))
    assert writes(more) == ["tunings/own 1.toml.old", "tunings/own 1.toml"]
    assert more[0].text == follow[0].text


def test_without_a_stick_it_waits_for_one() -> None:
    alone = Start(stick=False)
    turned = (harmony(), Adjusted(5, CENTS, -3), Tick(REST + 5))
    assert run(*turned, start=alone)[1] == ()
    assert run(*turned, StickChanged(REST + 6, present=True), start=alone)[1] == (LookAtStick(),)
    _, follow = run(*turned, StickListed(REST + 7), Tick(3 * REST), start=alone)
    assert writes(follow) == ["tunings/own 1.toml"]
    assert run(StickChanged(1, present=True))[1] == ()
    assert run(StickChanged(1, present=False))[0].stick is False


def test_a_stick_that_has_the_name_already_is_not_written_over() -> None:
    theirs = OwnTuning("own 1", "own 1", intervals=("", "", "", "390 cents", "", "", "", "", "", "", ""))
    turned = (harmony(), Adjusted(5, CENTS, -3), StickChanged(6, present=False))
    state, follow = run(*turned, StickListed(7, (), (theirs, HALL), ("tunings/x.toml is bad",)))
    assert [own.name for own in state.own] == ["own 1", "hall", "own 2"]
    assert state.unsaved == {"own 2"}
    assert follow[0].chosen == "own 2"
    assert follow[1:] == (AppendLine("report.txt", "tunings/x.toml is bad"), Noticed(7, "tuning-bad"))
    assert run(StickListed(7, (), (HALL,)))[0].own == (HALL,)
    kept, _ = run(harmony(own=HALL), StickListed(7, (), ()), start=Start(tunings=(HALL, PIPES)))
    assert kept.own == (HALL,), "what sounds goes on"


def test_the_knob_goes_through_the_boxs_names_and_begins_new_ones() -> None:
    one = (harmony(), Adjusted(1, CENTS, 1))
    state, follow = run(*one, Adjusted(2, KEPT_AS, 1))
    assert (follow[0].chosen, state.fresh) == ("own 2", "own 2")
    assert run(*one, Adjusted(2, KEPT_AS, 1), Adjusted(3, KEPT_AS, 1))[1] == ()
    state, follow = run(*one, Adjusted(2, KEPT_AS, 1), Adjusted(3, KEPT_AS, -1))
    assert ([own.name for own in state.own], state.fresh) == (["own 1"], "")
    state, follow = run(harmony(), Adjusted(1, KEPT_AS, -1))
    assert follow[0].chosen == ""
    copy, _ = run(harmony(own=HALL), Adjusted(1, KEPT_AS, 1), start=Start(tunings=(HALL,)))
    assert copy.own[1].intervals == HALL.intervals


def test_names_come_to_an_end() -> None:
    all_taken = tuple(own_from(Harmony(key_of("C")).scheme(), key_of("C"), f"own {n}") for n in range(1, MOST + 1))
    for field in (CENTS, KEPT_AS):
        _, follow = run(harmony(), Adjusted(1, field, 1), start=Start(tunings=all_taken))
        assert follow == (Noticed(1, "tunings-many"),)


@given(st.lists(st.tuples(st.sampled_from([TONE, CENTS, KEPT_AS]), st.integers(-30, 30)), max_size=12))
def test_whatever_is_turned_gives_tunings_that_a_file_brings_back(turns: list[tuple[str, int]]) -> None:
    events = [Adjusted(n, field, steps) for n, (field, steps) in enumerate(turns)]
    state, _ = run(harmony(), *events)
    for own in state.own:
        assert read_tuning(write_tuning(own), "x", own.name) == (own, ())
