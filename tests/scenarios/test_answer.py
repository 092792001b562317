"""The whole box answers players in a room, its loudspeaker 6 dB louder at the microphone than they are."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest

from firmware.heard_events import Heard
from firmware.units import RATE, cents_of, ratio_of
from tests.speed.answer_scenes import Adder, Hall, Take, degree_hz, note, perform, player

SILENT_MS = 300.0
CHANGE_MS = 400.0
TONIC, SECOND, THIRD = (degree_hz(semitones, 3) for semitones in (0, 2, 4))
"""B♭3, C4 and D4 of B♭ major; just ratios 9/8 and 5/4 (Helmholtz, On the Sensations of Tone, tr. Ellis)."""


def silent_ms(take: Take, stop: float, until: float) -> float:
    """Milliseconds after `stop` until the answer at the loudspeaker has fallen by 40 dB for good."""
    level = take.level()[round(stop * 200) : round(until * 200)]
    sounding = np.flatnonzero(level > -40.0)
    return 0.0 if not len(sounding) else float(sounding[-1] + 1) * 5.0


def first_ms(take: Take, hz: float, start: float) -> float:
    """Milliseconds after `start` until this target is asked for."""
    return next((at / RATE - start) * 1000 for at, answer in take.wanted if answer.on and answer.hz == hz)


def targets(take: Take) -> list[float]:
    """Targets that were asked for, in order, each once in a row."""
    asked = [answer.hz for _, answer in take.wanted if answer.on]
    return asked[:1] + [hz for before, hz in pairwise(asked) if hz != before]


def near(asked: Sequence[float], wanted: Sequence[float]) -> bool:
    """Whether targets are the wanted ones to a hundredth of a cent."""
    return len(asked) == len(wanted) and all(abs(cents_of(a / b)) <= 0.01 for a, b in zip(asked, wanted, strict=True))


@pytest.mark.parametrize(
    ("octave", "drone", "hall"),
    [
        ("same", False, Hall(rt60=1.2)),
        ("lower", False, Hall(rt60=0.4)),
        ("same", True, Hall(rt60=0.8)),
        pytest.param("lower", True, Hall(rt60=1.2), marks=pytest.mark.long),
        pytest.param("same", False, Hall(rt60=1.2, drive=1.0, even=0.05), marks=pytest.mark.long),
        pytest.param("same", True, Hall(rt60=1.2, drive=1.0, even=0.05), marks=pytest.mark.long),
        pytest.param("lower", True, Hall(rt60=1.2, drive=1.0, even=0.05), marks=pytest.mark.long),
    ],
)
def test_a_sharp_player_gets_the_target_until_he_changes_or_stops(octave: str, drone: bool, hall: Hall) -> None:  # noqa: FBT001 - a row of the table
    begin = 4.0 if drone else 0.5
    change, stop = begin + 1.2, begin + 2.4
    players = [player("trumpet", note(TONIC, begin, 1.2, 20.0), note(SECOND, change, 1.2, -10.0))]
    take = perform(hall, players, stop + 2.5, settings={"answer_octave": octave}, drone=drone)
    asked = targets(take)
    assert near(asked, (TONIC, SECOND))
    assert first_ms(take, asked[0], begin) < CHANGE_MS
    assert first_ms(take, asked[1], change) < CHANGE_MS
    assert 0 < silent_ms(take, stop, stop + 2.5) < SILENT_MS
    heard = [e for e in take.told if isinstance(e, Heard) and begin + 0.4 < e.at / RATE < change - 0.1]
    read = [cents_of(e.hz / TONIC) for e in heard if e.hz]
    assert len(read) > 0.9 * len(heard)
    # What the loudspeaker distorts lies on the player's free partials, of a drone more than of an answer alone.
    assert np.abs(np.array(read) - 20.0).max() < ((3.0 if drone else 2.0) if hall.drive else 1.0)


@pytest.mark.parametrize("octave", [pytest.param("same", marks=pytest.mark.long), "lower"])
def test_difference_tones_of_answer_and_drone_are_not_answered(octave: str) -> None:
    """Two octaves under the tonic a loudspeaker that saturates makes a tone of D4 and the drone on B♭."""
    players = [player("trumpet", note(TONIC, 4.0, 1.0, 10.0), note(THIRD, 5.0, 1.0))]
    hall = Hall(rt60=1.2, drive=1.0, even=0.1)
    take = perform(hall, players, 7.5, settings={"answer_octave": octave}, drone=True)
    assert near(targets(take), (TONIC, THIRD))
    # It goes on for as long as he plays, and no longer.
    assert np.mean(take.level()[1080:1190] > -6.0) > 0.95
    assert silent_ms(take, 6.0, 7.5) < SILENT_MS


def test_nobody_playing_stays_unanswered_however_the_room_rings() -> None:
    players = [player("trumpet", note(TONIC, 0.5, 1.0, 10.0), note(THIRD, 1.5, 0.8), note(SECOND, 2.5, 0.6))]
    take = perform(Hall(rt60=1.2), players, 9.0)
    stop = 3.1
    assert silent_ms(take, stop, 9.0) < SILENT_MS
    assert [at for at, answer in take.wanted if answer.on and at / RATE > stop + 0.1] == []


def test_the_same_note_again_and_again_is_answered_again_and_again() -> None:
    notes = [note(TONIC, 0.5 + 0.5 * number, 0.3, 8.0) for number in range(4)]
    take = perform(Hall(rt60=0.8), [player("clarinet", *notes)], 4.0)
    assert near(targets(take), (TONIC,))
    begun = [at / RATE for at, answer in take.wanted if answer.on]
    assert len(begun) == 4
    assert all(0.0 < at - (0.5 + 0.5 * number) < 0.3 for number, at in enumerate(begun))


@pytest.mark.long
@pytest.mark.timeout(400)  # a minute of work, several on a busy machine
@pytest.mark.parametrize("octave", ["same", "lower"])
@pytest.mark.parametrize("hall", [Hall(rt60=1.2), Hall(rt60=1.2, drive=1.0, even=0.1)])
def test_after_three_minutes_of_silence_it_has_not_begun_by_itself(octave: str, hall: Hall) -> None:
    players: list[Adder] = [player("trumpet", note(TONIC, 4.0, 1.0, 10.0), note(THIRD, 5.0, 1.0))]
    take = perform(hall, players, 180.0, settings={"answer_octave": octave}, drone=True)
    assert silent_ms(take, 6.0, 180.0) < SILENT_MS
    assert len(take.starts()) >= 2
    assert all(at < 6.1 for at, _ in take.starts())


@pytest.mark.long
def test_a_player_exactly_in_tune_is_answered_for_as_long_as_he_plays() -> None:
    take = perform(Hall(), [player("trumpet", note(THIRD, 0.5, 10.0))], 13.0)
    assert near(targets(take), (THIRD,))
    assert silent_ms(take, 10.5, 13.0) < SILENT_MS
    assert np.mean(take.level()[200:2100] > -6.0) > 0.95


@pytest.mark.long
def test_a_wide_vibrato_is_one_note() -> None:
    slow = note(THIRD, 0.5, 6.0, 10.0, vibrato=30.0, vibrato_hz=5.5)
    take = perform(Hall(rt60=0.8), [player("voice", slow)], 9.0)
    assert near(targets(take), (THIRD,))
    assert np.mean(take.level()[200:1300] > -6.0) > 0.85


@pytest.mark.long
def test_a_slide_is_answered_degree_by_degree() -> None:
    slide = note(TONIC, 0.5, 4.0, 0.0, settle_to=700.0, settle_s=6.0, settle_after=0.5)
    take = perform(Hall(), [player("strings", slide)], 7.0)
    asked = targets(take)
    assert len(asked) >= 5
    assert asked == sorted(asked)
    assert near(asked[:1], (TONIC,))
    assert silent_ms(take, 4.5, 7.0) < SILENT_MS


@pytest.mark.long
def test_of_two_players_the_louder_is_answered() -> None:
    louder = player("trumpet", note(TONIC, 0.5, 4.0, 6.0))
    softer = player("clarinet", note(TONIC * ratio_of(386.31), 1.5, 2.0, -5.0, level_db=-38.0), seed=9)
    take = perform(Hall(), [louder, softer], 7.0)
    assert near(targets(take), (TONIC,))
    assert silent_ms(take, 4.5, 7.0) < SILENT_MS
