"""Scenes for the onset figures: notes at known samples, the box's own click through a room, room noise.

A note is rendered alone by FluidSynth (FluidR3, reverb and chorus off), its onset measured on it by the definition in
`firmware.hearing.onsets_attack`, and then put on its sample here: FluidSynth begins notes only every 64 samples.
"""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
import soundfile

from firmware.hearing.onsets_attack import attack_of
from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, PulseSound, Sound, ToneSound
from firmware.units import RATE
from hardware.simulated.room import pink_noise, response

SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
TEMPO = 92.0
BEAT = 60.0 / TEMPO
COUNT_IN = 8
BEATS = 48
LATE = 2112
"""Samples from a block handed out until its sound is in the microphone: 32 ms of sound card, 12 ms of air."""

INSTRUMENTS = {
    "snare": (9, 0, (38, 40)),
    "woodblock": (9, 0, (76, 77)),
    "trumpet": (0, 56, (58, 62, 65, 70, 74, 77)),
    "clarinet": (0, 71, (50, 57, 62, 67, 72, 77)),
    "violin": (0, 40, (55, 62, 67, 69, 74, 81)),
}
"""MIDI channel, General MIDI program from 0, keys."""
STROKES = "strokes"
VELOCITIES = (70, 90, 110)
LENGTHS = (0.11, 0.25, 0.5, 1.0)
APART = 2.0


@dataclass(frozen=True, slots=True)
class Note:
    """One note alone: its sound, the sample of its onset in it, and for how long the key was held."""

    sound: np.ndarray
    onset: int
    length: float


@dataclass(frozen=True, slots=True)
class Scene:
    """Microphone, what the box played, what of that was the click, and the true onsets in samples."""

    mic: np.ndarray
    own: np.ndarray
    struck: np.ndarray
    truth: np.ndarray


def strokes(generator: np.random.Generator) -> list[Note]:
    """Synthetic strokes that begin at full strength: noise, and struck bars of three partials; 10 to 80 ms long."""
    notes = []
    for number in range(18):
        time = np.arange(round(0.3 * RATE)) / RATE
        fall = np.exp(-time / generator.uniform(0.01, 0.08))
        hz, phases = generator.uniform(200.0, 2500.0), generator.uniform(0, 2 * np.pi, 3)
        partials = zip((1, 2.7, 5.1), phases, strict=True)
        body = sum(np.cos(2 * np.pi * hz * times * time + phase) / times for times, phase in partials)
        sound = (generator.standard_normal(len(time)) if number % 2 else body) * fall
        sound *= 0.3 * 10 ** (generator.uniform(-12, 0) / 20) / np.abs(sound).max()
        notes.append(Note(sound, 0, 0.0))
    return notes


def sampled(name: str) -> list[Note]:
    """Every key at every velocity and length, one after another, cut apart."""
    channel, program, keys = INSTRUMENTS[name]
    wanted = [(key, velocity, length) for key in keys for velocity in VELOCITIES for length in LENGTHS]
    with tempfile.TemporaryDirectory() as folder:
        midi, wav = Path(folder, "notes.mid"), Path(folder, "notes.wav")
        midi.write_bytes(_midi_file(channel, program, wanted))
        options = ["-o", "synth.reverb.active=0", "-o", "synth.chorus.active=0"]
        command = ["fluidsynth", "-ni", "-q", "-g", "0.6", "-r", str(RATE), *options, "-F", wav, SOUNDFONT, midi]
        subprocess.run(command, check=True, capture_output=True)
        sound = soundfile.read(wav)[0].mean(axis=1)
    notes = []
    for number, (_, _, length) in enumerate(wanted):
        begin = round((0.45 + APART * number) * RATE)
        alone = sound[begin : begin + round((APART - 0.05) * RATE)]
        notes.append(Note(alone, attack_of(alone, RATE), length))
    return notes


def _midi_file(channel: int, program: int, wanted: list[tuple[int, int, float]]) -> bytes:
    """Standard MIDI File (MIDI Association, 1.0) of format 0, 960 ticks a second: half a second of rest, the notes."""

    def ticks(seconds: float) -> bytes:
        number = round(960 * seconds)
        parts = [number & 0x7F]
        while number := number >> 7:
            parts.append(0x80 | number & 0x7F)
        return bytes(reversed(parts))

    track = b"\0\xff\x51\x03" + (1_000_000).to_bytes(3, "big") + bytes([0, 0xC0 | channel, program])
    wait = 0.5
    for key, velocity, length in wanted:
        track += ticks(wait) + bytes([0x90 | channel, key, velocity])
        track += ticks(length) + bytes([0x80 | channel, key, 0])
        wait = APART - length
    track += ticks(2.0) + b"\xff\x2f\0"
    header = b"MThd" + (6).to_bytes(4, "big") + b"\0\0\0\1" + (960).to_bytes(2, "big")
    return header + b"MTrk" + len(track).to_bytes(4, "big") + track


def played(seconds: float, *, drone: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """What the engine puts out for a plain pulse whose first beat is half a second in, perhaps over a drone.

    The second array is the click's share.
    """
    engine = Engine()
    tones = tuple(ToneSound(116.54 * ratio) for ratio in (1, 1.5, 2, 2.5, 3, 4))
    program = Program(curve=Curve(TEMPO * float(Fraction(1, 4))))
    held = DroneSound(on=drone, tones=tones)
    engine.sound = Sound(drone=held, pulse=PulseSound(on=True, start=round(0.5 * RATE), program=program, run=1))
    silence = np.zeros(512, np.float32)
    blocks = [(engine.process(silence), engine.clicked.read(512)) for _ in range(round(seconds * RATE) // 512)]
    own, struck = zip(*blocks, strict=True)
    return np.concatenate(own), np.concatenate(struck)


def scene(
    notes: list[Note], seed: int, *, click: bool, room: bool = False, drone: bool = False, beats: int = BEATS
) -> Scene:
    """So many beats after a count-in of two bars: sixteenths to half notes, 20 ms off the beat (standard deviation).

    The click, or click and drone together, are as loud as the notes: the loudest 30 ms of each have the same RMS (the
    median note). They come through a room of RT60 0.5 s whose tail is 3 dB under the direct sound. With `room` the
    players are in one too, 9 dB under. Noise is pink at -66 dB re full scale.
    """
    generator = np.random.default_rng(seed)
    own, struck = played((COUNT_IN + beats) * BEAT + 2.5, drone=drone)
    dry, truth, place = np.zeros(len(own)), [], 0.0
    while place < beats:
        step = float(generator.choice([0.25, 0.5, 1.0, 2.0], p=[0.15, 0.4, 0.35, 0.1]))
        fitting = [note for note in notes if note.length <= max(0.9 * step * BEAT, min(LENGTHS))]
        note = fitting[int(generator.integers(len(fitting)))]
        at = round((0.5 + (COUNT_IN + place) * BEAT + generator.normal(0, 0.02)) * RATE) + LATE
        part = note.sound[: len(dry) - (at - note.onset)]
        dry[at - note.onset : at - note.onset + len(part)] += part
        truth.append(at)
        place += step
    heard = _through(own, response(0.5, LATE, -3.0, np.random.default_rng(seed + 100)))
    heard *= float(np.median([loudness(note.sound) for note in notes])) / loudness(heard)
    players = _through(dry, response(0.5, 0, -9.0, np.random.default_rng(seed + 200))) if room else dry
    mic = players + (heard if click else 0.0) + pink_noise(len(own), -66.0, generator)
    if not click:
        own, struck = np.zeros_like(own), np.zeros_like(own)
    return Scene(mic.astype(np.float32), own, struck, np.array(sorted(truth)))


def loudness(sound: np.ndarray) -> float:
    """RMS of the loudest 30 ms."""
    width = round(0.03 * RATE)
    sums = np.concatenate([[0.0], np.cumsum(np.square(sound, dtype=np.float64))])
    return float(np.sqrt((sums[width:] - sums[:-width]).max() / width))


def _through(sound: np.ndarray, path: np.ndarray) -> np.ndarray:
    size = 1 << (len(sound) + len(path)).bit_length()
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(path, size), size)[: len(sound)]
