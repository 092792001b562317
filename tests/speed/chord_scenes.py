"""Chords of a room full of players, as a microphone hears them, with the truth of each degree."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.music.chords import Role
from firmware.music.harmony import Harmony, chord_intervals, tones_of
from firmware.music.keys import Key, knob_tonics
from firmware.music.modes import mode_named
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import RATE, Samples, samples_of
from hardware.simulated.players import PlayedNote, Voice
from hardware.simulated.room import pink_noise, response
from hardware.simulated.timbres import PLAYER_TIMBRES

PLAYERS: Final = 3
SPREAD: Final = 8.0
"""Players of a degree lie within this many cents of each other's middle, evenly."""

OFF: Final = 15.0
"""A degree as a whole lies up to this far off."""

LEVELS_DB: Final = 3.0
MODES: Final = ("major", "minor", "dorian", "harmonic-minor")
ROOT_RANGE: Final = (110.0, 220.0)
BEFORE: Final = samples_of(4.0)
"""Own drone alone, in which its lines are fitted."""


@dataclass(frozen=True, slots=True, eq=False)
class ChordScene:
    """A recording: microphone, what the box played, the harmony, and for each member its Hz and mean cents."""

    mic: Samples
    own: Samples
    harmony: Harmony
    hz: tuple[float, ...]
    cents: tuple[float, ...]
    begins: int


def chord_scene(
    seed: int,
    *,
    octaves: int = 1,
    drone_db: float | None = None,
    sevenths: float = 0.0,
    seconds: float = 1.6,
    rt60: float = 1.0,
) -> ChordScene:
    """Three players a degree, of one instrument, each in his own place of a room.

    Parameters
    ----------
    seed : int
        Every seed is another chord.
    octaves : int
        The root lies between A2 and A3; every member in one of so many octaves. 1 is root position.
    drone_db : float, optional
        Level of the box's own drone at the microphone against that of the players together.
    sevenths : float
        Share of seventh chords; the others are triads.
    seconds : float
        Length of the chord.
    rt60 : float
        Reverberation time.
    """
    generator = np.random.default_rng(seed)
    harmony = _harmony(generator, sevenths)
    members = [
        (m, i.ratio) for m, _, i in chord_intervals(harmony) if harmony.shape == "seventh" or m.role < Role.SEVENTH
    ]
    low = tones_of(replace(harmony, shape="unison", octave=3))[0].hz
    root = low / 2.0 ** np.ceil(np.log2(low / ROOT_RANGE[1]))
    count = samples_of(seconds)
    players, hz, cents = np.zeros(count), [], []
    for _, ratio in members:
        where = root * ratio / members[0][1] * 2.0 ** generator.integers(0, octaves)
        offs = generator.uniform(-OFF, OFF) + generator.uniform(-SPREAD, SPREAD, PLAYERS)
        players += _degree(float(where), offs, count, rt60, generator)
        hz.append(float(where))
        cents.append(float(offs.mean()))
    return _recorded(players, harmony, (tuple(hz), tuple(cents)), drone_db, rt60, generator)


def _harmony(generator: np.random.Generator, sevenths: float) -> Harmony:
    mode = mode_named(MODES[generator.integers(len(MODES))])
    key = Key(knob_tonics(mode)[generator.integers(12)], mode)
    degree = mode.scale[generator.integers(len(mode.scale))]
    return Harmony(key, shape="seventh" if generator.random() < sevenths else "triad", chord_degree=degree)


def _degree(
    hz: float, offs: NDArray[np.float64], count: int, rt60: float, generator: np.random.Generator
) -> NDArray[np.float64]:
    """Players of one instrument on one degree, each with a level and a way through the room of his own."""
    timbre = PLAYER_TIMBRES[generator.integers(len(PLAYER_TIMBRES))]
    level = -28.0 + generator.uniform(-LEVELS_DB, LEVELS_DB)
    sound = np.zeros(count)
    for off in offs:
        note = PlayedNote(hz, 0, count, cents=off, settle_to=off, level_db=level + generator.uniform(-2.0, 2.0))
        dry = np.zeros(count, np.float32)
        Voice(timbre, note, generator).add_to(dry, 0)
        sound += through(dry, response(rt60, int(generator.integers(0, 480)), -9.0, generator))
    return sound


def through(dry: Samples, way: Samples) -> NDArray[np.float64]:
    """Convolve, and cut to the length of what went in."""
    size = 2 ** int(np.ceil(np.log2(len(dry) + len(way))))
    both: NDArray[np.float64] = np.fft.irfft(np.fft.rfft(dry, size) * np.fft.rfft(way, size), size)[: len(dry)]
    return both


def _recorded(
    players: NDArray[np.float64],
    harmony: Harmony,
    truth: tuple[tuple[float, ...], tuple[float, ...]],
    drone_db: float | None,
    rt60: float,
    generator: np.random.Generator,
) -> ChordScene:
    begins = 0 if drone_db is None else BEFORE
    count = begins + len(players)
    mic = pink_noise(count, -66.0, generator).astype(np.float64)
    mic[begins:] += players
    own = np.zeros(count, np.float32)
    if drone_db is not None:
        own = drone_of(harmony, count)
        heard = through(own, response(rt60, 600, -3.0, generator))
        loud = np.std(players[len(players) // 4 :]) * 10 ** (drone_db / 20) / np.std(heard[begins:])
        mic += loud * heard
    return ChordScene(mic.astype(np.float32), own, harmony, *truth, begins)


def drone_of(harmony: Harmony, count: int) -> Samples:
    """What the box plays when its drone holds the root of a chord in octaves."""
    engine = Engine(RATE)
    tones = tuple(ToneSound(tone.hz, tone.level_db) for tone in tones_of(replace(harmony, shape="octaves")))
    engine.sound = Sound(drone=DroneSound(on=True, tones=tones, timbre="reed", level_db=-18.0))
    return engine.process(np.zeros(count, np.float32))
