"""The rehearsal room of a script: loudspeaker, players and microphone, the same every time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from firmware.music.harmony import Harmony
from firmware.music.keys import Key
from firmware.music.naming import name_pitch
from firmware.music.notes import Note, parse_note
from firmware.units import BLOCK, Samples, gain_of, samples_of
from hardware.simulated.convolver import Convolver
from hardware.simulated.players import PlayedNote, Voice, section
from hardware.simulated.room import NOISE_SAMPLES, Room, pink_noise, response
from hardware.simulated.script import Play, Script

MAJOR: Final = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the degrees that a mode does not have: those of major."""

ROOM_SEED, NOISE_SEED, PLAYER_SEED = range(3)


class World:
    """What the microphone hears, block by block.

    Parameters
    ----------
    script : Script
        Who plays what, and the room.
    harmony : function
        What the box holds now. Players follow it: they play their degree in the key that the box is in when their
        note begins.
    block : int
        Samples in each block.
    """

    def __init__(self, script: Script, harmony: Callable[[], Harmony], block: int = BLOCK) -> None:
        self._script = script
        self._harmony = harmony
        self._block = block
        self._to_come = list(reversed(list(enumerate(script.plays))))
        self._voices: list[Voice] = []
        self._convolver = Convolver(responses(script.room, script.seed, block), block)
        self._noise = pink_noise(NOISE_SAMPLES, script.room.noise_db, _generator(script.seed, NOISE_SEED))
        self._inputs = np.zeros((2, block), np.float32)
        self.position = 0
        """First sample of the next microphone block."""

    def block(self, speaker: Samples) -> Samples:
        """Give the next microphone block, shape (block,).

        Parameters
        ----------
        speaker : array, shape (block,)
            What the box put out in the block before it; silence before the first.
        """
        players = self._inputs[0]
        players[:] = 0.0
        self._begin_notes()
        for voice in self._voices:
            voice.add_to(players, self.position)
        self._inputs[1] = speaker
        mic = self._convolver.process(self._inputs)
        mic += self._noise[np.arange(self.position, self.position + self._block) % NOISE_SAMPLES]
        self.position += self._block
        self._voices = [voice for voice in self._voices if voice.end > self.position]
        return np.clip(mic, -1.0, 1.0)

    def _begin_notes(self) -> None:
        end = self.position + self._block
        while self._to_come and samples_of(self._to_come[-1][1].at) < end:
            number, play = self._to_come.pop()
            generator = _generator(self._script.seed, PLAYER_SEED, number)
            note = played_note(play, self._harmony())
            self._voices.extend(section(play.player.timbre, note, play.player.count, play.player.spread, generator))


def played_note(play: Play, harmony: Harmony) -> PlayedNote:
    """Work out a note of the script for what the box holds."""
    return PlayedNote(
        hz=target_hz(play, harmony),
        start=samples_of(play.at),
        length=samples_of(play.seconds),
        cents=play.cents,
        settle_to=play.settle_to,
        settle_s=play.settle_s,
        settle_after=play.settle_after,
        vibrato=play.vibrato,
        vibrato_hz=play.vibrato_hz,
        level_db=play.level_db,
    )


def target_hz(play: Play, harmony: Harmony) -> float:
    """In-tune frequency of a note of the script, in Hz."""
    if play.note is not None:
        equal = parse_note(play.note).equal_hz(harmony.a4)
    else:
        semitones = semitones_of(play.degree or "1", harmony.key)
        equal = Note(harmony.key.tonic, play.octave).equal_hz(harmony.a4) * 2.0 ** (semitones / 12)
    return name_pitch(equal, harmony).target_hz


def semitones_of(degree: str, key: Key) -> int:
    """Semitones of a degree above the tonic, as the mode counts it; as major does where the mode lacks it."""
    for semitones in range(12):
        if key.label(semitones) == degree:
            return semitones
    return (MAJOR[int(degree[-1]) - 1] + {"♭": -1, "♯": 1}.get(degree[0], 0)) % 12


def responses(room: Room, seed: int, block: int) -> Samples:
    """Impulse responses to the microphone from players and loudspeaker, shape (2, taps).

    The loudspeaker's lacks one block of its latency, by which `World.block` is late already.
    """
    generator = _generator(seed, ROOM_SEED)
    near = response(room.rt60, samples_of(room.player_ms / 1000.0), room.player_reverb_db, generator)
    delay = max(0, room.latency - block) + samples_of(room.delay_ms / 1000.0)
    far = response(room.rt60, delay, room.reverb_db, generator) * np.float32(gain_of(room.speaker_db))
    both = np.zeros((2, max(len(near), len(far))), np.float32)
    both[0, : len(near)] = near
    both[1, : len(far)] = far
    return both


def _generator(*seed: int) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(seed))
