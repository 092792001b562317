"""Closed loops of the whole box in a simulated room, in which players are answered: used by the benchmark and tests."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from firmware.events import Event, KeyDown, KeyUp, PanelKey
from firmware.heard_events import AnswerGiven, Answering
from firmware.parts.part import Start
from firmware.settings import DEFAULTS, Value
from firmware.sound.answer import HEADROOM_DB
from firmware.sound.snapshot import AnswerSound
from firmware.units import BLOCK, RATE, Samples, gain_of, ratio_of, samples_of
from hardware.desk import offline_box
from hardware.loop import OfflineLoop
from hardware.simulated.convolver import Convolver
from hardware.simulated.players import PlayedNote, Voice
from hardware.simulated.room import NOISE_SAMPLES, pink_noise, response
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.stick import SimulatedStick
from hardware.simulated.timbres import player_timbre

PLAYER_DB: Final = -30.0
"""RMS of a player at the microphone, direct sound, in dB below full scale."""

LATENCY: Final = 1536
"""Samples that a sound card takes there and back."""


Adder = Callable[[Samples, int], None]
"""Adds a sound to a block whose first sample is at a position."""


@dataclass(frozen=True, slots=True)
class Hall:
    """A room: reverberation, tail against direct sound of loudspeaker and players, noise, and what the PA does.

    `answer_db` is how much louder the answer is than a player, at the microphone. `drive` is how far the loudspeaker
    is driven: 0 is linear, at 1 an answer alone loses about a decibel to saturation.
    """

    rt60: float = 0.8
    reverb_db: float = -3.0
    player_reverb_db: float = -9.0
    noise_db: float = -70.0
    answer_db: float = 6.0
    drive: float = 0.0
    even: float = 0.0
    seed: int = 1


@dataclass(frozen=True, slots=True)
class Take:
    """What came of a loop: what the loudspeaker sounded, the answer in it, the microphone, and what was told."""

    speaker: Samples
    answer: Samples
    mic: Samples
    told: tuple[Event, ...]
    wanted: tuple[tuple[int, AnswerSound], ...]
    """The answer that was asked for, from which sample on."""

    def level(self) -> NDArray[np.float64]:
        """Level of the answer at the loudspeaker, dB below its highest, every 5 ms; -200 for silence."""
        size = RATE // 200
        power = np.mean(
            self.answer[: len(self.answer) // size * size].reshape(-1, size).astype(np.float64) ** 2, axis=1
        )
        top = max(float(power.max(initial=0.0)), 1e-20)
        return np.asarray(10 * np.log10(np.maximum(power / top, 1e-20)), dtype=np.float64)

    def starts(self) -> list[tuple[float, str]]:
        """Seconds at which answers began, and what was answered."""
        return [(e.at / RATE, e.note.text) for e in self.told if isinstance(e, Answering) and e.note is not None]

    def ends(self) -> list[AnswerGiven]:
        """Answers that ended."""
        return [event for event in self.told if isinstance(event, AnswerGiven)]


def note(hz: float, start: float, seconds: float, cents: float = 0.0, **more: float) -> PlayedNote:
    """A note at `cents` from `hz` that stays there."""
    given = {"settle_to": cents, "level_db": PLAYER_DB} | more
    return PlayedNote(hz, samples_of(start), samples_of(seconds), cents=cents, **given)


def player(timbre: str, *notes: PlayedNote, seed: int = 5) -> Adder:
    """What adds the notes of one player to a block."""
    generator = np.random.default_rng(seed)
    voices = [Voice(player_timbre(timbre), one, generator) for one in notes]

    def add(block: Samples, position: int) -> None:
        for voice in voices:
            voice.add_to(block, position)

    return add


def recorded(sound: Samples, start: float) -> Adder:
    """What adds a recording from `start` seconds on."""
    first = samples_of(start)

    def add(block: Samples, position: int) -> None:
        low, high = max(position, first), min(position + len(block), first + len(sound))
        if low < high:
            block[low - position : high - position] += sound[low - first : high - first]

    return add


def perform(
    hall: Hall,
    players: Sequence[Adder],
    seconds: float,
    *,
    settings: dict[str, Value] | None = None,
    drone: bool = False,
    taps: int = 2,
    do: Sequence[tuple[float, Callable[[OfflineLoop], None]]] = (),
    disturb: Adder | None = None,
) -> Take:
    """Run the box with its ear set to answer by `taps` of its key; players begin when they like.

    Parameters
    ----------
    hall : Hall
        The room.
    players : sequence of functions
        Each adds its sound, as the microphone has it without the room, to a block from a position on.
    seconds : float
        Length.
    settings : dict, optional
        What the box is set to.
    drone : bool
        Whether the drone is switched on at the beginning.
    taps : int
        Taps of the Ear key.
    do : sequence of (seconds, function)
        What is done to the loop, and when.
    disturb : function, optional
        Adds to the microphone what does not come from players.
    """
    values = DEFAULTS
    for name, value in (settings or {}).items():
        values = values.put(name, value)
    with tempfile.TemporaryDirectory() as folder:
        stick = SimulatedStick(Path(folder) / "KEELNOTE")
        loop = offline_box(stick, SimulatedScreen(), Start(values=values, stick=True))
        stage = Stage(loop, hall, values.number("answer_level"))
        for key in (*([PanelKey.DRONE] if drone else []), *[PanelKey.EAR] * taps):
            tap(loop, key)
        left = list(do)
        while loop.now < samples_of(seconds):
            while left and samples_of(left[0][0]) <= loop.now:
                left.pop(0)[1](loop)
            stage.block(players, disturb)
        return stage.take()


class Stage:
    """The room round a box, one block late like a sound card."""

    def __init__(self, loop: OfflineLoop, hall: Hall, answer_level: float) -> None:
        self._loop = loop
        self._hall = hall
        self._told: list[Event] = []
        self._answers: list[Samples] = []
        self._mics: list[Samples] = []
        self._speakers: list[Samples] = [np.zeros(BLOCK, np.float32)]
        self._wanted: list[tuple[int, AnswerSound]] = []
        self._watch()
        generator = np.random.default_rng(hall.seed)
        level = answer_level + HEADROOM_DB - 3.0
        near = response(hall.rt60, 300, hall.player_reverb_db, generator) / _loudness(hall.player_reverb_db)
        far = response(hall.rt60, LATENCY - BLOCK + 600, hall.reverb_db, generator) / _loudness(hall.reverb_db)
        both = np.zeros((2, max(len(near), len(far))), np.float32)
        both[0, : len(near)] = near
        both[1, : len(far)] = far * np.float32(gain_of(PLAYER_DB + hall.answer_db - level))
        self._convolver = Convolver(both, BLOCK)
        self._noise = pink_noise(NOISE_SAMPLES, hall.noise_db, generator)
        self._full = gain_of(level + 3.0)

    def _watch(self) -> None:
        # The loop has no place to look in from; a test puts itself between.
        box: Any = self._loop.box
        engine: Any = self._loop._engine
        deliver, write = box._deliver, engine.answered.write

        def told(event: Event) -> object:
            self._told.append(event)
            return deliver(event)

        def written(sound: Samples | None, count: int) -> None:
            self._answers.append(np.zeros(count, np.float32) if sound is None else sound.copy())
            write(sound, count)

        box._deliver = told
        engine.answered.write = written

    def block(self, players: Sequence[Adder], disturb: Adder | None) -> None:
        """Go on by one block."""
        at = self._loop.now
        played = np.zeros(BLOCK, np.float32)
        for one in players:
            one(played, at)
        mic = self._convolver.process(np.stack([played, self._distorted(self._speakers[-1])]))
        mic += self._noise[np.arange(at, at + BLOCK) % NOISE_SAMPLES]
        if disturb is not None:
            disturb(mic, at)
        self._speakers.append(self._loop.block(mic))
        answer = self._loop.box.sound.answer
        if not self._wanted or self._wanted[-1][1] != answer:
            self._wanted.append((at, answer))
        self._mics.append(mic)

    def _distorted(self, speaker: Samples) -> Samples:
        """What a loudspeaker makes of it: saturation, and a share of its square."""
        hall, full = self._hall, self._full
        if not hall.drive and not hall.even:
            return speaker
        out = speaker.astype(np.float64)
        if hall.drive:
            out = full / hall.drive * np.tanh(out * hall.drive / full)
        out = out + hall.even * out**2 / full
        return out.astype(np.float32)

    def take(self) -> Take:
        """What came of it."""
        mic, answer = np.concatenate(self._mics), np.concatenate(self._answers)
        return Take(np.concatenate(self._speakers[1:]), answer, mic, tuple(self._told), tuple(self._wanted))


def _loudness(reverb_db: float) -> np.float32:
    return np.float32(np.sqrt(1.0 + gain_of(reverb_db) ** 2))


def tap(loop: OfflineLoop, key: PanelKey) -> None:
    """Tap a key."""
    loop.post(KeyDown(loop.now, key))
    loop.post(KeyUp(loop.now, key))


def degree_hz(semitones: int, octave: int, cents: float = 0.0) -> float:
    """Just target of a degree of B♭ major at A4 = 440 Hz, in Hz, from the ratios of Helmholtz."""
    ratios = {0: 1.0, 2: 9 / 8, 4: 5 / 4, 5: 4 / 3, 7: 3 / 2, 9: 5 / 3, 11: 15 / 8}
    tonic = 440.0 * 2.0 ** ((10 - 9) / 12 + octave - 4)
    return float(tonic * ratios[semitones] * ratio_of(cents))
