"""Tempo maps of Standard MIDI Files against mido and pretty_midi, over generated files and ones that music21 wrote.

mido (MIT licence) adds up seconds message by message; pretty_midi (MIT licence) keeps a table of ticks and seconds;
music21 (BSD licence) writes MIDI from the scores of its corpus. Standard MIDI Files 1.0: MIDI Association, RP-001.
"""

from __future__ import annotations

import io
import random
import warnings
from fractions import Fraction

import mido
import pytest

from firmware.music.general_midi import PERCUSSION_CHANNEL
from firmware.plan.midi_file import MidiFile, read_midi
from firmware.plan.midi_rhythm import curve_of, program_of_midi

with warnings.catch_warnings():
    # What libraries warn of when they are first imported is not ours.
    warnings.simplefilter("ignore")
    import pretty_midi
    from music21 import corpus, metadata, meter, stream, tempo
    from music21.midi.translate import streamToMidiFile

SAMPLE = 1 / 48_000


def mido_times(data: bytes) -> list[tuple[int, float]]:
    """Tick and seconds of every message of a file, added up by mido."""
    file = mido.MidiFile(file=io.BytesIO(data), clip=True)
    ticks = [message.time for message in mido.merge_tracks(file.tracks)]
    seconds = [message.time for message in file]
    found, tick, second = [], 0, 0.0
    for ticks_on, seconds_on in zip(ticks, seconds, strict=True):
        tick, second = tick + ticks_on, second + seconds_on
        found.append((tick, second))
    return found


def worst(midi: MidiFile, times: list[tuple[int, float]]) -> float:
    """Largest distance in seconds of our time from another's."""
    curve = curve_of(midi)
    return max(abs(curve.time(Fraction(tick, 4 * midi.division)) - second) for tick, second in times)


def generated(seed: int, kind: int) -> bytes:
    """A file of an hour or so: hundreds of tempos and meters in the first track, percussion and a tune in others."""
    rng = random.Random(seed)  # noqa: S311 - a seed that gives the same file every time, no secret
    division = rng.choice([24, 96, 120, 384, 480, 960, 1000])
    first = mido.MidiTrack()
    for _ in range(rng.randint(1, 300)):
        wait = rng.choice([0, rng.randint(0, 40 * division)])
        if rng.random() < 0.7:
            first.append(mido.MetaMessage("set_tempo", tempo=rng.randint(200_000, 3_000_000), time=wait))
        else:
            top, under = rng.randint(1, 13), rng.choice([2, 4, 8, 16])
            first.append(mido.MetaMessage("time_signature", numerator=top, denominator=under, time=wait))
    tracks = [first]
    for channel in (PERCUSSION_CHANNEL, 2):
        track = mido.MidiTrack()
        for _ in range(rng.randint(0, 400)):
            note, wait = rng.randint(35, 81), rng.randint(0, 8 * division)
            track.append(mido.Message("note_on", channel=channel, note=note, velocity=rng.randint(0, 127), time=wait))
        tracks.append(track)
    file = mido.MidiFile(type=1, ticks_per_beat=division)
    file.tracks = tracks
    if kind == 0:
        file = mido.MidiFile(type=0, ticks_per_beat=division)
        file.tracks = [mido.merge_tracks(tracks)]
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


@pytest.mark.parametrize("kind", [0, 1])
@pytest.mark.parametrize("seed", range(12))
def test_seconds_are_those_of_mido_and_pretty_midi(seed: int, kind: int) -> None:
    data = generated(seed, kind)
    midi = read_midi(data, "generated.mid")
    times = mido_times(data)
    assert worst(midi, times) < SAMPLE
    other = pretty_midi.PrettyMIDI(io.BytesIO(data))
    assert worst(midi, [(tick, float(other.tick_to_time(tick))) for tick, _ in times]) < SAMPLE


@pytest.mark.parametrize("seed", range(6))
def test_strokes_and_signatures_are_those_of_mido(seed: int) -> None:
    data = generated(100 + seed, seed % 2)
    midi = read_midi(data, "generated.mid")
    strokes, signatures, tick = [], [], 0
    for message in mido.merge_tracks(mido.MidiFile(file=io.BytesIO(data)).tracks):
        tick += message.time
        if message.type == "note_on" and message.channel == PERCUSSION_CHANNEL and message.velocity:
            strokes.append((tick, message.note, message.velocity))
        if message.type == "time_signature":
            signatures.append((tick, message.numerator, message.denominator))
    assert sorted(midi.strokes) == sorted(strokes)
    assert list(midi.signatures) == signatures
    program = program_of_midi(midi, "generated.mid")
    assert program.length is not None
    struck = sum(len(program.hits(bar)) for bar in range(1, program.length + 1))
    assert struck == len(strokes) or not strokes


def scored(name: str, marks: list[tuple[float, float]]) -> stream.Score:
    """A score of music21's corpus with some tempos written in: (offset in quarters, quarters a minute)."""
    score = corpus.parse(name)
    assert isinstance(score, stream.Score)
    part = score.parts[0]
    for offset, number in marks:
        part.insert(offset, tempo.MetronomeMark(number=number))
    assert score.metadata is None or isinstance(score.metadata, metadata.Metadata)
    return score


@pytest.mark.parametrize(
    ("name", "marks"),
    [
        ("bach/bwv66.6", [(0.0, 92.0), (9.0, 60.5), (20.0, 132.25)]),
        ("bach/bwv269", [(0.0, 45.0), (4.0, 44.0), (5.0, 43.0), (6.0, 30.0)]),
        ("bach/bwv7.7", []),
        ("luca/gloria", [(0.0, 160.0), (100.0, 120.0)]),
    ],
)
def test_scores_of_a_corpus_keep_their_tempos_and_bars(name: str, marks: list[tuple[float, float]]) -> None:
    score = scored(name, marks)
    data = streamToMidiFile(score).writestr()
    midi = read_midi(data, f"{name}.mid")
    assert worst(midi, mido_times(data)) < SAMPLE
    other = pretty_midi.PrettyMIDI(io.BytesIO(data))
    ticks = range(0, midi.end + 1, midi.division)
    assert worst(midi, [(tick, float(other.tick_to_time(tick))) for tick in ticks]) < SAMPLE
    first = score.recurse().getElementsByClass(meter.TimeSignature).first()
    assert midi.signatures[0][1:] == (first.numerator, first.denominator)
    assert program_of_midi(midi, name).groove is None
