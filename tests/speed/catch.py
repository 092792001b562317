"""How often the catch is right: `python -m tests.speed.catch [chorales]` writes tests/speed/results/catch.json.

One note: every note of the registers of six sampled instruments (FluidR3 through FluidSynth), 1.5 s each, read by the
ear; when the catch first answers, and whether it is right at 1.5 s.

Key: the first 8 bars of Bach chorales (the corpus of music21), rendered with sampled choir, organ, strings and winds,
through the same stream and decision as in the box; beside it music21's own key analysis of the same bars, which has the
notes themselves. The truth is the last bass note of the whole chorale with its key signature; chorales that end off the
tonic of their signature are left out, because nobody can say what is right there.
"""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np
import soundfile
from music21 import corpus

from firmware.heard_events import PartialsHeard
from firmware.hearing.catch import CatchState, Caught, catch_key, catch_note, hear_note, hear_partials
from firmware.hearing.chord_listener import ChordListener
from firmware.hearing.ear import Ear
from firmware.music.modes import mode_named
from firmware.units import RATE, Samples, samples_of
from tests.speed.box import machine

RESULTS: Final = Path(__file__).parent / "results" / "catch.json"
SOUNDFONT: Final = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
BLOCK: Final = 512
TICKS: Final = 480
BARS: Final = 8
CHORALE_PROGRAMS: Final = (52, 19, 61, 48, 56, 71)
"""General MIDI programs counted from 0: choir, organ, brass, strings, trumpet, clarinet."""

INSTRUMENTS: Final = {
    "flute": (73, 60, 95),
    "clarinet": (71, 50, 89),
    "trumpet": (56, 52, 82),
    "horn": (60, 41, 76),
    "cello": (42, 36, 71),
    "tuba": (58, 29, 60),
}
"""Program, lowest and highest note in MIDI numbers: usual written registers at concert pitch, common practice."""

Played = tuple[float, float, int]
"""Quarters from the start, quarters that it lasts, MIDI number."""
Truth = tuple[int, str]
"""Pitch class of the tonic, major or minor."""


def render(notes: Sequence[Played], program: int, bpm: float = 84.0) -> Samples:
    """Play notes on one sampled instrument."""
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder, "notes.mid"), Path(folder, "notes.wav")
        midi.write_bytes(midi_file(notes, program, bpm))
        words = ["fluidsynth", "-ni", "-q", "-r", str(RATE), "-g", "0.5", "-F", str(wave), str(SOUNDFONT), str(midi)]
        subprocess.run(words, check=True, capture_output=True)
        sound, _ = soundfile.read(wave, dtype="float32")
    mono: Samples = sound.mean(axis=1).astype(np.float32)
    return mono


def midi_file(notes: Sequence[Played], program: int, bpm: float) -> bytes:
    """A Standard MIDI File of format 0 (MIDI Association)."""
    events = [(round(at * TICKS), 1, bytes([0x90, midi, 80])) for at, _, midi in notes]
    events += [(round((at + length) * TICKS) - 10, 0, bytes([0x80, midi, 0])) for at, length, midi in notes]
    track = b"\x00\xff\x51\x03" + struct.pack(">I", round(6e7 / bpm))[1:] + bytes([0, 0xC0, program])
    now = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track += variable(tick - now) + message
        now = tick
    track += b"\x60\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, TICKS) + b"MTrk" + struct.pack(">I", len(track)) + track


def variable(number: int) -> bytes:
    """A number in MIDI's variable length."""
    groups = [number & 127]
    while number := number >> 7:
        groups.append((number & 127) | 128)
    return bytes(reversed(groups))


def one_note(sound: Samples) -> tuple[Caught | None, float | None]:
    """What is caught after the whole of a note, and after how many seconds it was caught first."""
    ear, state, first = Ear(RATE), CatchState(), None
    for at in range(0, len(sound), BLOCK):
        block = sound[at : at + BLOCK]
        for heard in ear.process(block, np.zeros(len(block), np.float32)):
            state = hear_note(state, heard)
            if first is None and catch_note(state.readings, mode_named("major"), 440.0) is not None:
                first = (at + BLOCK) / RATE
    return catch_note(state.readings, mode_named("major"), 440.0), first


def notes_of(instrument: str, step: int = 1) -> Iterator[tuple[int, Samples]]:
    """MIDI number and 1.5 s of each note of an instrument's register."""
    program, low, high = INSTRUMENTS[instrument]
    numbers = range(low, high + 1, step)
    sound = render([(3.0 * n, 2.2, midi) for n, midi in enumerate(numbers)], program)
    for n, midi in enumerate(numbers):
        begin = samples_of(3.0 * n * 60 / 84)
        yield midi, sound[begin : begin + samples_of(1.5)]


def measure_notes(step: int = 1) -> dict[str, object]:
    """Figures of all instruments."""
    right, seconds, wrong = 0, [], []
    for instrument in INSTRUMENTS:
        for midi, sound in notes_of(instrument, step):
            caught, first = one_note(sound)
            if caught is not None and caught.key.tonic.semitones == midi % 12 and first is not None:
                right += 1
                seconds.append(first)
            else:
                wrong.append(f"{instrument} {midi}")
    return {
        "notes": right + len(wrong),
        "right_percent": round(100 * right / (right + len(wrong)), 2),
        "wrong": wrong,
        "seconds_median": round(float(np.median(seconds)), 3),
        "seconds_worst": round(max(seconds), 3),
    }


def chorales(count: int | None) -> Iterator[tuple[list[Played], Truth, Truth]]:
    """Notes of the first bars, the true key, and what music21 says, of so many chorales spread over the corpus."""
    paths = [path for path in corpus.getComposer("bach") if str(path).endswith((".mxl", ".xml"))]
    step = max(1, len(paths) // (count or len(paths)))
    for path in paths[::step]:
        score = corpus.parse(path)
        truth = true_key(score) if len(score.parts) == 4 else None
        if truth is None:
            continue
        bars = score.measures(0, BARS)
        notes = [
            (float(event.offset), float(event.duration.quarterLength), pitch.midi)
            for part in bars.parts
            for event in part.flatten().notes
            for pitch in event.pitches
        ]
        guess = bars.analyze("key")
        yield notes, truth, (guess.tonic.pitchClass, guess.mode)


def true_key(score: Any) -> Truth | None:  # noqa: ANN401 - music21 has no types
    """Tonic and mode from the last bass note and the key signature."""
    signatures = list(score.recurse().getElementsByClass("KeySignature"))
    if not signatures:
        return None
    bass = score.parts[-1].flatten().notes[-1].pitches[0].pitchClass
    major = 7 * signatures[0].sharps % 12
    # The minor keys of the time are often written with a flat less: the Dorian signature.
    return {major: (bass, "major"), (major + 9) % 12: (bass, "minor"), (major + 2) % 12: (bass, "minor")}.get(bass)


def key_of_sound(sound: Samples) -> Caught | None:
    """What is caught from a passage."""
    listener, state = ChordListener(RATE), CatchState()
    for at in range(0, len(sound), BLOCK):
        block = sound[at : at + BLOCK]
        for event in listener.process(block, np.zeros(len(block), np.float32)):
            if isinstance(event, PartialsHeard):
                state = hear_partials(state, event, 440.0)
    return catch_key(state.frames)


def key_of_notes(notes: Sequence[Played], bpm: float = 84.0) -> Caught | None:
    """What is caught when the fundamentals of the notes are all that is heard."""
    state, end = CatchState(), max(at + length for at, length, _ in notes)
    for step in range(int(end * 4)):
        at = (step + 0.5) / 4
        sounding = sorted({midi for begin, length, midi in notes if begin <= at < begin + length})
        partials = tuple((440.0 * 2 ** ((midi - 69) / 12), -20.0) for midi in sounding)
        state = hear_partials(state, PartialsHeard(samples_of(at * 60 / bpm), partials), 440.0)
    return catch_key(state.frames)


def is_right(caught: Caught | None, truth: Truth) -> bool:
    """Whether tonic and mode are right."""
    return caught is not None and (caught.key.tonic.semitones, caught.key.mode.name) == truth


def measure_keys(count: int | None) -> dict[str, object]:
    """Figures of the chorales."""
    rows: list[tuple[float, bool, bool, bool, bool]] = []
    for number, (notes, truth, guess) in enumerate(chorales(count)):
        caught = key_of_sound(render(notes, CHORALE_PROGRAMS[number % len(CHORALE_PROGRAMS)]))
        second = caught is not None and (caught.second.tonic.semitones, caught.second.mode.name) == truth
        sure = 0.0 if caught is None else caught.confidence
        rows.append((sure, is_right(caught, truth), second, is_right(key_of_notes(notes), truth), guess == truth))
    surest = sorted(rows)[len(rows) // 2 :]
    return {
        "chorales": len(rows),
        "ours_from_sound_percent": percent([row[1] for row in rows]),
        "ours_from_sound_or_second_guess_percent": percent([row[1] or row[2] for row in rows]),
        "ours_from_notes_percent": percent([row[3] for row in rows]),
        "music21_from_notes_percent": percent([row[4] for row in rows]),
        "mean_confidence": round(float(np.mean([row[0] for row in rows])), 3),
        "surer_half_right_percent": percent([row[1] for row in surest]),
    }


def percent(hits: Sequence[bool]) -> float:
    """Share of hits in per cent."""
    return round(100 * sum(hits) / len(hits), 1)


def main() -> None:
    """Measure, print and keep the figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else None
    figures = {
        "machine": machine(),
        "date": time.strftime("%Y-%m-%d"),
        "one_note": measure_notes(),
        "key": measure_keys(count),
    }
    text = json.dumps(figures, indent=2) + "\n"
    RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
