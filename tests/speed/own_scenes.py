"""Rooms with the box and players in them, for what the removal of own sound is measured by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from scipy.signal import fftconvolve

from firmware.hearing.room import Room
from firmware.hearing.room_check import learn_room
from firmware.hearing.room_clock import on_other_clock
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, PulseSound, Sound, SweepSound, ToneSound
from firmware.units import BLOCK, RATE, Samples, gain_of, samples_of
from hardware.simulated.room import pink_noise, response

CHECK_SECONDS: Final = 5.6
CHECK: Final = Sound(sweep=SweepSound(on=True, start=RATE, level_db=-18.0))
WAY_DB: Final = -10.0
"""Level of the loudspeaker's direct sound at the microphone."""
LATE: Final = 2112
"""Samples from own sound to its direct sound: a sound card of 32 ms and 4 m of air."""


def drone(*hz: float, timbre: str = "reed", level_db: float = -18.0) -> Sound:
    """A drone of these tones; none is silence."""
    tones = tuple(ToneSound(one) for one in hz)
    return Sound(drone=DroneSound(on=bool(hz), tones=tones, timbre=timbre, level_db=level_db))


def played(*parts: tuple[Sound, float], engine: Engine | None = None) -> Samples:
    """What the engine plays: each sound for so many seconds."""
    engine, blocks = engine or Engine(), []
    for sound, seconds in parts:
        engine.sound = sound
        blocks += [engine.process(np.zeros(480, np.float32)) for _ in range(round(seconds * 100))]
    return np.concatenate(blocks)


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Ways of loudspeaker and player to the microphone, its noise, and by how much its clock runs fast."""

    box: np.ndarray
    player: np.ndarray
    noise_db: float = -66.0
    ppm: float = 0.0

    def mic(self, own: np.ndarray, players: np.ndarray, seed: int) -> tuple[np.ndarray, np.ndarray]:
        """The microphone, and the same without own sound, as both hear the players. `players` are heard already."""
        noise = np.resize(pink_noise(1 << 19, self.noise_db, np.random.default_rng(seed)), len(own))
        heard = fftconvolve(own.astype(np.float64), self.box)[: len(own)]
        if self.ppm:
            heard = on_other_clock(heard, -self.ppm)
        return heard + players + noise, players + noise


def tail_place(rt60: float, seed: int, **how: float) -> Place:
    """A room of decaying noise (Schroeder's model) in which both ways have tails of their own."""
    generator = np.random.default_rng([seed, round(10 * rt60)])
    box = response(rt60, LATE, -3.0, generator).astype(np.float64) * gain_of(WAY_DB)
    return Place(box, response(rt60, 300, -9.0, generator).astype(np.float64), **how)


def moved_on(place: Place, other: Place, share: float) -> np.ndarray:
    """The loudspeaker's way once a share of its tail's amplitude is that of another room; the direct sound stays."""
    box = np.sqrt(1 - share**2) * place.box + share * other.box
    box[LATE] = place.box[LATE]
    return np.asarray(box)


def image_place(rt60: float, seed: int, **how: float) -> Place:
    """A shoebox of 12 x 9 x 4 m by image sources, with loudspeaker and player 4 and 2.5 m from the microphone."""
    generator = np.random.default_rng(seed)
    size = np.array([12.0, 9.0, 4.0])
    mic = np.array([5.0, 4.0, 1.5]) + generator.uniform(-0.5, 0.5, 3)
    ways = [
        image_sources(size, mic + off + generator.uniform(-0.3, 0.3, 3), mic, rt60)
        for off in (np.array([3.0, 2.5, 0.5]), np.array([-2.0, 1.5, 0.0]))
    ]
    latency = np.zeros(1536)
    return Place(np.concatenate([latency, ways[0] * gain_of(WAY_DB)]), ways[1], **how)


@lru_cache(maxsize=8)
def _orders(size: tuple[float, float, float], seconds: float) -> tuple[np.ndarray, np.ndarray]:
    """For every image: its place as multiples of the room's edges (n, 3), with sign of the source (n, 3)."""
    reach = 343.0 * seconds
    axes = [np.arange(-int(reach / edge / 2) - 1, int(reach / edge / 2) + 2) for edge in size]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    signs = np.stack(np.meshgrid(*[[0, 1]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    return np.repeat(grid, 8, axis=0), np.tile(signs, (len(grid), 1))


def image_sources(size: np.ndarray, source: np.ndarray, mic: np.ndarray, rt60: float) -> np.ndarray:
    """Impulse response of a shoebox, 1 for direct sound at 1 m, shape (n,).

    Image-source method of Allen & Berkley, JASA 65(4), 1979; one absorption for all walls, from Sabine's formula.
    """
    volume, area = float(np.prod(size)), 2 * float(size[0] * size[1] + size[1] * size[2] + size[0] * size[2])
    reflected = np.sqrt(max(0.0, 1 - min(0.99, 0.161 * volume / (area * rt60))))
    grid, signs = _orders((float(size[0]), float(size[1]), float(size[2])), rt60)
    place = (1 - 2 * signs) * source + 2 * grid * size - mic
    far = np.sqrt((place**2).sum(axis=1))
    walls = (np.abs(grid - signs) + np.abs(grid)).sum(axis=1)
    late = far / 343.0 * RATE
    inside = late < rt60 * RATE
    # Shared between two samples; that takes the highest octave down a little, as air does.
    whole = np.floor(late[inside]).astype(int)
    size_of = reflected ** walls[inside] / np.maximum(far[inside], 0.3)
    taps = np.zeros(round(rt60 * RATE) + 2)
    np.add.at(taps, whole, size_of * (1 - (late[inside] - whole)))
    np.add.at(taps, whole + 1, size_of * (late[inside] - whole))
    taps -= np.convolve(taps, np.ones(480) / 480, "same")
    return np.asarray(taps / np.abs(taps).max())


def room_of(place: Place, seed: int, *, changed: np.ndarray | None = None, bends: float = 0.0) -> Room:
    """What a room check finds there, on a stream that begins with it; `changed` is added to the microphone."""
    own = check_sound()
    mic = place.mic(bent(own, bends), np.zeros(len(own)), seed)[0]
    return learn_room((mic if changed is None else mic + changed[: len(mic)]).astype(np.float32), own, RATE)


@lru_cache(maxsize=1)
def check_sound() -> Samples:
    """The test signal with a second of silence before it and more after it."""
    return played((CHECK, CHECK_SECONDS))


def bent(own: np.ndarray, bends: float) -> np.ndarray:
    """Own sound after an amplifier that clips softly: tanh, with `bends` the gain into it; 0 is none."""
    return own if not bends else np.tanh(own.astype(np.float64) * bends) / bends


def synthetic(hz: float, seconds: float, generator: np.random.Generator) -> np.ndarray:
    """A player of twenty partials at random levels, RMS 1, with soft ends."""
    time = np.arange(samples_of(seconds)) / RATE
    levels = np.arange(1, 21.0) ** -0.8 * generator.uniform(0.5, 1.5, 20)
    sound = np.zeros(len(time))
    for number, level in enumerate(levels, 1):
        if number * hz < 20_000:
            sound += level * np.cos(2 * np.pi * number * hz * time + generator.uniform(0, 2 * np.pi))
    edge = np.sin(np.linspace(0, np.pi / 2, samples_of(0.05))) ** 2
    sound[: len(edge)] *= edge
    sound[-len(edge) :] *= edge[::-1]
    return np.asarray(sound / sound.std())


def murmur(seconds: float, level_db: float, generator: np.random.Generator) -> np.ndarray:
    """A band that noodles: six players, each with notes of a third of a second to one second, RMS `level_db`."""
    whole = np.zeros(samples_of(seconds))
    for _ in range(6):
        at = 0.0
        while at < seconds - 0.2:
            length = min(float(generator.uniform(0.3, 1.0)), seconds - at)
            hz = 110.0 * 2 ** (generator.integers(0, 30) / 12 + generator.normal(0, 0.01))
            note = synthetic(float(hz), length, generator)
            first = samples_of(at)
            whole[first : first + len(note)] += note[: len(whole) - first]
            at += length
    return np.asarray(whole * gain_of(level_db) / whole.std())


def a_take(seconds: float, generator: np.random.Generator) -> np.ndarray:
    """What a replay plays: a melody with vibrato in a room, peak about 0.2."""
    notes = []
    while sum(map(len, notes)) < seconds * RATE:
        time = np.arange(samples_of(float(generator.uniform(0.25, 1.2)))) / RATE
        hz = 110.0 * 2 ** (generator.integers(0, 24) / 12)
        phase = 2 * np.pi * np.cumsum(hz * 2 ** (8 * np.sin(2 * np.pi * 5.5 * time) / 1200)) / RATE
        tone = sum(np.cos(k * phase + k) / k for k in range(1, 13))
        notes.append(tone * np.minimum(1, np.minimum(time, time[-1] - time) / 0.03))
    dry = np.concatenate(notes)[: samples_of(seconds)]
    wet = fftconvolve(dry, response(0.6, 0, -6.0, generator))[: len(dry)]
    return np.asarray(0.2 * wet / np.abs(wet).max() + 1e-4 * generator.standard_normal(len(wet)))


CHORDS: Final = ((1.0, 2.0), (1.0, 1.5, 2.0, 3.0), (1.0, 1.25, 1.5, 2.0), (2.0,), (1.0, 1.2599, 1.4983, 2.0))


def box_alone(seconds: float, seed: int) -> Iterator[Samples]:
    """What the box plays in a rehearsal in which nobody comes: drones, changes, clicks, replays, answers, silences."""
    generator = np.random.default_rng(seed)
    engine, done, run = Engine(), 0.0, 0
    timbres = ("reed", "flue", "plain", "horn", "bowed")
    while done < seconds:
        length = float(np.round(generator.uniform(0.4, 12.0), 2))
        kind = generator.choice(["drone", "drone", "drone with click", "click", "replay", "answers", "silence"])
        root = 116.54 * 2 ** (generator.integers(-5, 7) / 12)
        chord = [root * ratio for ratio in CHORDS[generator.integers(len(CHORDS))]]
        sound = drone(*chord, timbre=str(generator.choice(timbres)), level_db=float(generator.uniform(-30, -14)))
        run += 1
        click = PulseSound(on=True, start=engine.position + 4800, run=run, level_db=float(generator.uniform(-24, -8)))
        if kind == "drone with click":
            sound = Sound(drone=sound.drone, pulse=click)
        elif kind == "click":
            sound = Sound(pulse=click)
        elif kind in ("replay", "silence"):
            sound = Sound()
        if kind == "answers":
            notes = [(drone(root * 2 ** (generator.integers(0, 13) / 12)), 0.6) for _ in range(round(length / 0.6) + 1)]
            part = played(*notes, engine=engine)
        else:
            part = played((sound, length), engine=engine)
        if kind == "replay":
            part = part + a_take(len(part) / RATE, generator)[: len(part)].astype(np.float32)
        done += len(part) / RATE
        yield part


def blocks_of(*sounds: np.ndarray, size: int = 4 * BLOCK) -> Iterator[tuple[int, tuple[Samples, ...]]]:
    """Blocks of equally long sounds as float32, with the place of each."""
    for at in range(0, len(sounds[0]), size):
        yield at, tuple(np.asarray(sound[at : at + size], dtype=np.float32) for sound in sounds)
