"""The three sentences follow their rules."""

from dataclasses import replace

from firmware.sheet.rehearsal import Rehearsal, TimedPulse
from firmware.sheet.sentences import sentences


def texts(rehearsal: Rehearsal):
    return [sentence.text for sentence in sentences(rehearsal)]


def test_what_is_said_of_a_full_rehearsal(rehearsal: Rehearsal):
    assert texts(rehearsal) == [
        "The third lay furthest off: 12 cents sharp over 3 notes; 1 of them came to rest.",
        "3 of 6 held notes came to rest, half of them within 0.6 s.",
        "The drone sounded for 1:25 of 1:30, longest in B♭ major; there are 2 takes of 0:30 in all.",
    ]


def test_what_is_said_of_an_empty_one():
    assert texts(Rehearsal(1)) == [
        "No degree was held 3 times, so none is judged.",
        "No note was held long enough to judge.",
        "The drone was silent; there is no take.",
    ]


def test_degrees_within_the_tolerance_are_praised_not_blamed(rehearsal: Rehearsal):
    assert (
        texts(replace(rehearsal, tolerance=12.5))[0] == "Every degree held 3 times lay within 12.5 cents of its target."
    )


def test_a_degree_held_twice_is_not_spoken_of(rehearsal: Rehearsal):
    assert texts(replace(rehearsal, notes=rehearsal.notes[1:]))[0] == "No degree was held 3 times, so none is judged."


def test_nothing_at_rest_and_one_take(rehearsal: Rehearsal):
    restless = replace(rehearsal, notes=rehearsal.notes[:2], takes=rehearsal.takes[:1])
    assert texts(restless)[1] == "0 of 2 held notes came to rest."
    assert texts(restless)[2].endswith("there is 1 take of 0:20 in all.")


def test_every_sentence_has_its_rule(rehearsal: Rehearsal):
    assert all(sentence.rule.endswith(".") for sentence in sentences(rehearsal))


def test_who_played_to_the_click_is_told_how_it_lay(rehearsal: Rehearsal):
    few = TimedPulse(5.0, 1, 4, 12, 40.0, 9.0, 2.0)
    most = TimedPulse(75.0, 1, 16, 120, 14.6, 9.0, -1.24, (("1", 6.0, 8.0), ("3", 24.4, 9.0)))
    assert texts(replace(rehearsal, timings=(few, most)))[1] == (
        "With the click from 1:15 (bars 1–16) the players were 15 ms late, dragging 1.2 %; "
        "beat 3 was furthest off, 24 ms late."
    )
    assert texts(replace(rehearsal, timings=(few,)))[1].endswith("the players were 40 ms late, rushing 2.0 %.")
