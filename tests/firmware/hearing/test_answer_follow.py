"""The follower: readings of a player through an answer, and silence when only the answer is there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest

from firmware.heard_events import Heard
from firmware.hearing.answer_follow import LISTEN_HOPS, AnswerFollower
from firmware.hearing.answer_lines import RING_SECONDS, lines_of
from firmware.hearing.answer_still import STILL_HOPS
from firmware.sound.snapshot import AnswerSound
from firmware.units import cents_of, gain_of, ratio_of

RATE = 12_000.0
HOP = 480
TARGET = 233.08


@dataclass
class Bench:
    """A follower, and the sound that it is given hop by hop; `answer` may be changed at any time."""

    answer: AnswerSound = field(default_factory=AnswerSound)
    at: int = 0

    def __post_init__(self) -> None:
        self.follower = AnswerFollower(RATE, HOP, lambda: self.answer)
        self.noise = np.random.default_rng(2)

    def hear(
        self,
        hops: int,
        player: Callable[[np.ndarray], np.ndarray] | None = None,
        *,
        ear: float | None = None,
        distortion_db: float | None = None,
    ) -> list[Heard]:
        """Hops of player and answer; `ear` is what the ear reads, `distortion_db` what the loudspeaker adds."""
        told = []
        for _ in range(hops):
            time = (self.at + np.arange(HOP)) / RATE
            sound = 1e-4 * self.noise.standard_normal(HOP)
            if player is not None:
                sound += player(time)
            if self.answer.on:
                lines = lines_of(self.answer.hz, self.answer.octave)
                sound += 0.05 * sum(np.cos(2 * np.pi * hz * time) for hz in lines)
                if distortion_db is not None:
                    twice = 2 * np.pi * self.answer.hz * time
                    sound += 0.05 * gain_of(distortion_db) * (np.cos(2 * twice) + np.cos(3 * twice))
            self.at += HOP
            why = "" if ear else "silence"
            told.append(self.follower.hear(sound, Heard(4 * self.at, ear, 0.9 if ear else 0.0, -25.0, why)))
        return told


def tone(hz: float, level: float = 0.03, partials: int = 8) -> Callable[[np.ndarray], np.ndarray]:
    """A player."""
    return lambda time: np.asarray(
        sum(level / n**0.5 * np.cos(2 * np.pi * n * hz * time + n * n) for n in range(1, partials + 1))
    )


def followed(octave: str = "same", cents: float = 20.0) -> Bench:
    """A bench on which a player is answered."""
    bench = Bench()
    hz = TARGET * ratio_of(cents)
    bench.hear(4, tone(hz), ear=hz)
    bench.answer = AnswerSound(on=True, hz=TARGET, octave=octave)
    return bench


def test_without_an_answer_the_ear_has_the_word() -> None:
    bench = Bench()
    assert [one.hz for one in bench.hear(3, ear=441.0)] == [441.0] * 3
    assert bench.hear(1)[0].why == "silence"
    assert not bench.follower.busy


@pytest.mark.parametrize("octave", ["same", "lower"])
@pytest.mark.parametrize("cents", [-35.0, 0.0, 0.3, 20.0])
def test_a_player_is_read_through_the_answer(octave: str, cents: float) -> None:
    bench = followed(octave, cents)
    told = bench.hear(20, tone(TARGET * ratio_of(cents)), ear=TARGET)
    assert bench.follower.busy
    read = [cents_of(one.hz / TARGET) for one in told[5:] if one.hz]
    assert len(read) == 15
    assert read == pytest.approx([cents] * 15, abs=0.3)


@pytest.mark.parametrize("octave", ["same", "lower"])
def test_when_the_player_stops_the_answer_alone_is_silence(octave: str) -> None:
    bench = followed(octave)
    bench.hear(15, tone(TARGET * ratio_of(20)), ear=TARGET)
    told = bench.hear(40, None, ear=TARGET)
    first = next(number for number, one in enumerate(told) if one.hz is None)
    assert first <= 3
    assert all(one.hz is None for one in told[first:])


def test_distortion_of_a_loudspeaker_does_not_hold_the_answer() -> None:
    bench = followed()
    bench.hear(15, tone(TARGET * ratio_of(20)), ear=TARGET, distortion_db=-20.0)
    told = bench.hear(40, None, ear=TARGET, distortion_db=-20.0)
    assert [one.hz for one in told[4:]] == [None] * 36


def doubted(bench: Bench, player: Callable[[np.ndarray], np.ndarray] | None, distortion_db: float | None) -> None:
    """Go on until the follower doubts what it hears."""
    for _ in range(2 * STILL_HOPS):
        told = bench.hear(1, player, ear=TARGET, distortion_db=distortion_db)[0]
        if told.why == "own sound":
            return
        assert told.hz is not None
    pytest.fail("never doubted")


def test_who_stands_still_is_asked_and_found_there() -> None:
    # A player exactly in tune: it may as well be distortion, until the answer has stopped.
    bench = Bench()
    bench.hear(4, tone(TARGET, 0.008), ear=TARGET)
    bench.answer = AnswerSound(on=True, hz=TARGET)
    doubted(bench, tone(TARGET, 0.008), None)
    bench.answer = AnswerSound(on=False, hz=TARGET)
    told = bench.hear(LISTEN_HOPS, tone(TARGET, 0.008), ear=TARGET)
    assert [one.why for one in told[:-1]] == ["own sound"] * (LISTEN_HOPS - 1)
    assert told[-1].hz is not None
    assert abs(cents_of(told[-1].hz / TARGET)) < 1.0


def test_distortion_that_was_taken_for_a_player_ends_with_the_answer() -> None:
    bench = Bench()
    bench.hear(4, tone(TARGET, 0.008), ear=TARGET)
    bench.answer = AnswerSound(on=True, hz=TARGET)
    bench.hear(5, tone(TARGET, 0.008), ear=TARGET, distortion_db=-10.0)
    doubted(bench, None, -10.0)
    bench.answer = AnswerSound(on=False, hz=TARGET)
    assert [one.hz for one in bench.hear(40, None, distortion_db=-10.0)] == [None] * 40


def test_another_note_is_told_while_the_answer_sounds() -> None:
    bench = followed()
    bench.hear(15, tone(TARGET * ratio_of(20)), ear=TARGET)
    told = bench.hear(12, tone(TARGET * 9 / 8), ear=TARGET)
    right = [number for number, one in enumerate(told) if one.hz and abs(cents_of(one.hz / TARGET * 8 / 9)) < 5]
    assert right[0] <= 5
    assert right == list(range(right[0], 12))


def test_the_ear_is_believed_again_when_the_answer_has_rung_out() -> None:
    bench = followed()
    bench.hear(10, tone(TARGET * ratio_of(20)), ear=TARGET)
    bench.answer = AnswerSound(on=False, hz=TARGET)
    hops = round(RING_SECONDS * RATE / HOP)
    assert all(one.hz is None for one in bench.hear(hops - 1, ear=500.0)[4:])
    assert bench.hear(1, ear=500.0)[0].hz == 500.0


def test_the_same_note_is_found_again_while_the_answer_rings() -> None:
    bench = followed()
    bench.hear(10, tone(TARGET * ratio_of(20)), ear=TARGET)
    bench.hear(6)
    bench.answer = AnswerSound(on=False, hz=TARGET)
    bench.hear(4)
    told = bench.hear(8, tone(TARGET))
    assert [one.hz is not None for one in told][-3:] == [True] * 3
    assert abs(cents_of((told[-1].hz or 1.0) / TARGET)) < 1


@pytest.mark.parametrize("rt60", [0.4, 1.2])
def test_what_only_rings_is_not_found(rt60: float) -> None:
    bench = followed()
    bench.hear(15, tone(TARGET * ratio_of(20)), ear=TARGET)
    ended = bench.at / RATE

    def ring(time: np.ndarray) -> np.ndarray:
        # The direct sound has gone, 9 dB, and the room falls by 60 dB in its reverberation time.
        return np.asarray(tone(TARGET * ratio_of(20), 0.01)(time) * 10 ** (-3 * (time - ended) / rt60))

    told = bench.hear(3, ring, ear=TARGET)
    bench.answer = AnswerSound(on=False, hz=TARGET)
    told += bench.hear(35, ring, ear=TARGET)
    assert [one.hz for one in told[4:]] == [None] * 34
