"""MIDI files give keys, tempos and meters like scores."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from firmware.plan.midi_file import read_midi
from firmware.plan.midi_score import score_of_midi
from firmware.plan.score import Place, ScoreKey
from firmware.plan.score_plan import plan_of_score

SET_TEMPO, SIGNATURE, KEY = b"\xff\x51\x03", b"\xff\x58\x04", b"\xff\x59\x02"


def test_keys_tempos_and_meters(midi_of: Callable[..., bytes]) -> None:
    track = [
        (0, b"\xff\x03\x05Ferry"),
        (0, KEY + b"\xfd\x00"),
        (0, SET_TEMPO + (500_000).to_bytes(3, "big")),
        (0, SIGNATURE + bytes((4, 2, 24, 8))),
        (4 * 480 * 2, SIGNATURE + bytes((6, 3, 36, 8))),
        (0, KEY + b"\x00\x01"),
        (720, SET_TEMPO + (1_000_000).to_bytes(3, "big")),
        (720, b"\x90\x40\x40"),
    ]
    score = score_of_midi(read_midi(midi_of(track), "a.mid"), "a.mid")
    assert score.title == "Ferry"
    assert [bar.length for bar in score.bars] == [4, 4, 3]
    assert [(meter.place, meter.text) for meter in score.meters] == [(Place(0), "4/4"), (Place(2), "6/8")]
    assert score.keys == (ScoreKey(Place(0), -3, "major"), ScoreKey(Place(2), 0, "minor"))
    assert [(tempo.place, tempo.quarters) for tempo in score.tempos] == [
        (Place(0), 120.0),
        (Place(2, Fraction(3, 2)), 60.0),
    ]
    plan, _ = plan_of_score(score)
    assert [step.title for step in plan.steps] == ["Bar 1: E♭ major", "Bar 3: A minor", "Bar 3"]
    assert dict(plan.steps[2].values)["tempo"] == 40.0


def test_an_empty_file_and_broken_signatures(midi_of: Callable[..., bytes]) -> None:
    score = score_of_midi(read_midi(midi_of([(0, KEY + b"\x40\x00"), (0, KEY + b"\x00\x05")]), "a.mid"), "a.mid")
    assert (score.keys, len(score.bars), score.tempos[0].quarters) == ((), 1, 120.0)
