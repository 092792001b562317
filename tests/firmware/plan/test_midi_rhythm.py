"""From MIDI files to pieces and grooves."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError
from firmware.music.meter import Bars
from firmware.music.program import Program
from firmware.plan.midi_file import MidiFile, read_midi
from firmware.plan.midi_rhythm import MOST_STROKES_IN_BAR, bars_of, curve_of, groove_of_midi, program_of_midi

F = Fraction


def test_a_piece_has_the_tempos_of_its_file() -> None:
    midi = MidiFile(480, tempos=((0, 500_000), (960, 1_000_000), (1920, 250_000), (1920, 500_000)), end=3840)
    curve = curve_of(midi)
    assert [curve.time(F(quarter, 4)) for quarter in range(7)] == pytest.approx([0, 0.5, 1, 2, 3, 3.5, 4])
    assert curve_of(MidiFile(96, tempos=((96, 1_000_000),))).time(F(2, 4)) == 1.5


def test_bars_follow_the_signatures() -> None:
    midi = MidiFile(480, signatures=((0, 4, 4), (3840, 6, 8), (3840 + 1440, 3, 4)), end=3840 + 1440 + 1440 * 2)
    bars, count = bars_of(midi, "x.mid")
    assert bars.text == "4/4x2 6/8 3/4x2"
    assert count == 5
    assert bars_of(MidiFile(480, end=1), "x.mid")[1] == 1
    assert bars_of(MidiFile(480, end=0), "x.mid")[1] == 1
    assert bars_of(MidiFile(480, end=1921), "x.mid")[1] == 2


def test_a_bar_that_is_cut_short_is_a_bar_of_its_own() -> None:
    bars, count = bars_of(MidiFile(480, signatures=((0, 4, 4), (480, 3, 4)), end=480 + 1440), "x.mid")
    assert (bars.text, count) == ("1/4 3/4", 2)
    odd, _ = bars_of(MidiFile(480, signatures=((0, 4, 4), (100, 3, 4)), end=1540), "x.mid")
    assert odd.bar(2)[0] == F(100, 1920)


def test_percussion_is_the_click_of_a_piece() -> None:
    strokes = ((0, 36, 127), (480, 38, 64), (1920, 42, 127), (2000, 99, 127))
    midi = MidiFile(480, signatures=((0, 4, 4),), strokes=strokes, end=3840)
    program = program_of_midi(midi, "ferry.mid", "ferry")
    assert program.length == 2
    assert [(hit.time, hit.sound) for hit in program.hits(1)] == [(0.0, "bass"), (0.5, "snare")]
    assert [hit.sound for hit in program.hits(2)] == ["cymbal", "tick"]
    assert program.hits(1)[1].gain == pytest.approx(64 / 127)
    plain = program_of_midi(MidiFile(480, end=1920), "ferry.mid")
    assert [hit.sound for hit in plain.hits(1)] == ["high", "low", "low", "low"]


def test_a_groove_loops_its_percussion_in_its_first_meter() -> None:
    midi = MidiFile(480, signatures=((0, 3, 4), (1440, 4, 4)), strokes=((0, 36, 127), (1440, 38, 127)), end=2880)
    groove = groove_of_midi(midi, "own.mid", "own")
    assert (groove.name, groove.title, groove.meter.text, len(groove.bars)) == ("own", "own", "3/4", 2)
    assert groove.strokes(3) == groove.strokes(1)


@pytest.mark.parametrize(
    ("midi", "words"),
    [
        (MidiFile(480, end=1920), "channel 10"),
        (MidiFile(480, strokes=((1920 * 70, 36, 9),), end=1920 * 70), "64 bars"),
        (MidiFile(480, strokes=((0, 36, 9),) * (MOST_STROKES_IN_BAR + 1), end=1920), "in bar 1"),
        (MidiFile(1, signatures=((0, 1, 64),), strokes=((0, 36, 9),), end=2**31), "20000 bars"),
    ],
)
def test_what_makes_no_groove_is_refused(midi: MidiFile, words: str) -> None:
    with pytest.raises(BadFileError, match=words):
        groove_of_midi(midi, "own.mid", "own")


ticks = st.integers(0, 4000)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(ticks, st.integers(30_000, 2**24 - 1)), max_size=6),
    st.lists(st.tuples(ticks, st.integers(1, 64), st.sampled_from([1, 2, 4, 8, 16, 64])), max_size=5),
    st.lists(st.tuples(ticks, st.integers(0, 127), st.integers(1, 127)), max_size=20),
    st.sampled_from([96, 480, 960]),
)
def test_any_file_is_a_piece_with_every_stroke_at_its_time(
    tempos: list[tuple[int, int]],
    signatures: list[tuple[int, int, int]],
    strokes: list[tuple[int, int, int]],
    division: int,
) -> None:
    by_tick = {"key": lambda one: one[0]}
    midi = MidiFile(
        division, tuple(sorted(tempos, **by_tick)), tuple(sorted(signatures, **by_tick)),
        tuple(sorted(strokes, **by_tick)), 4001,
    )  # fmt: skip
    program = program_of_midi(midi, "x.mid")
    curve = curve_of(midi)
    assert program.length is not None
    struck = sorted(hit.time for bar in range(1, program.length + 1) for hit in program.hits(bar)) if strokes else []
    assert struck == pytest.approx(sorted(curve.time(F(tick, 4 * division)) for tick, _, _ in strokes), abs=1e-9)


bits = st.sampled_from(
    [
        b"\0\x99\x24\x7f",
        b"\x83\x60\x99\x26\x40",
        b"\0\xff\x51\x03\x07\xa1\x20",
        b"\x60\xff\x51\x03\xff\xff\xff",
        b"\0\xff\x58\x04\x05\x03\x18\x08",
        b"\x81\x00\xff\x58\x04\x07\x06\x18\x08",
        b"\xff\xff\x7f\xd0\x01",
        b"\x8f\xff\xff\x7f\xd0\x01",
    ]
) | st.binary(max_size=3)


@settings(max_examples=300, deadline=None)
@given(st.lists(bits, max_size=12).map(b"".join), st.sampled_from([b"\0\x01", b"\x01\xe0", b"\x7f\xff"]))
def test_any_bytes_are_a_piece_and_a_groove_that_can_be_played_or_a_clear_error(body: bytes, division: bytes) -> None:
    data = b"MThd\0\0\0\6\0\0\0\1" + division + b"MTrk" + len(body).to_bytes(4, "big") + body
    for make in (program_of_midi, groove_of_midi):
        try:
            made = make(read_midi(data, "x.mid"), "x.mid", "x")
        except BadFileError:
            continue
        program = made if isinstance(made, Program) else Program(Bars(((1, made.meter),)), groove=made)
        for bar in (1, 2, 3, program.length or 4):
            times = [hit.time for hit in program.hits(bar)]
            assert times == sorted(times)
            assert all(0 <= hit.gain <= 1 for hit in program.hits(bar))
