"""The sound of the answer: exact pitch, soft ends, and what the engine says its share is."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.music.answer import FREE, OCTAVES
from firmware.sound.engine import Engine
from firmware.sound.snapshot import AnswerSound, DroneSound, Sound, ToneSound
from firmware.units import BLOCK, RATE, cents_of

TARGET = 262.2176
SILENCE = np.zeros(BLOCK, np.float32)


def played(*stretches: tuple[Sound, float], engine: Engine | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Loudspeaker and the answer's share of it, for snapshots that last some seconds each."""
    engine = engine or Engine()
    out, share = [], []
    for sound, seconds in stretches:
        engine.sound = sound
        for _ in range(round(seconds * RATE / BLOCK)):
            out.append(engine.process(SILENCE))
            share.append(engine.answered.read(BLOCK))
    return np.concatenate(out).astype(np.float64), np.concatenate(share).astype(np.float64)


def answer(octave: str = "same", hz: float = TARGET, level_db: float = -10.0) -> Sound:
    return Sound(answer=AnswerSound(on=True, hz=hz, octave=octave, level_db=level_db))


def line_hz(sound: np.ndarray, near: float) -> float:
    """Frequency of a line by the phases of two halves of a long stretch."""
    half = len(sound) // 2
    turn = np.exp(-2j * np.pi * near * np.arange(half) / RATE) * np.hanning(half)
    first, second = sound[:half] @ turn, sound[half : 2 * half] @ turn
    whole = near * half / RATE
    return near + float(np.angle(second * np.conj(first) * np.exp(-2j * np.pi * whole))) / (2 * np.pi * half / RATE)


@pytest.mark.parametrize("octave", OCTAVES)
def test_it_is_the_target_to_a_hundredth_of_a_cent(octave: str) -> None:
    sound, _ = played((answer(octave), 3.0))
    steady = sound[RATE:]
    assert abs(cents_of(line_hz(steady, TARGET) / TARGET)) < 0.001
    if octave == "lower":
        assert abs(cents_of(line_hz(steady, TARGET / 2) / (TARGET / 2))) < 0.001


@pytest.mark.parametrize("octave", OCTAVES)
def test_it_leaves_the_players_partials_alone(octave: str) -> None:
    sound, _ = played((answer(octave), 3.0))
    steady = sound[RATE:] * np.blackman(len(sound) - RATE)
    spectrum = np.abs(np.fft.rfft(steady))
    hz = np.fft.rfftfreq(len(steady), 1 / RATE)
    for number in FREE:
        near = spectrum[np.abs(hz - number * TARGET) < 20].max()
        assert near < 1e-4 * spectrum.max()


def test_it_comes_goes_and_changes_without_a_click() -> None:
    engine = Engine()
    played((Sound(), 0.5), engine=engine)
    changes = (answer(), answer(hz=294.0), answer("lower", hz=294.0), Sound())
    sound, _ = played(*((change, 0.5) for change in changes), engine=engine)
    size = 512
    for at in range(0, len(sound) - size, size // 2):
        spectrum = np.abs(np.fft.rfft(sound[at : at + size] * np.hanning(size))) / (size / 4)
        # The highest partial is 8 x 294 Hz; a click would be heard far above it.
        assert spectrum[80:].max() < 10 ** (-60 / 20)
    assert np.abs(sound[-RATE // 10 :]).max() == 0.0


def test_its_end_takes_no_longer_than_its_fall() -> None:
    engine = Engine()
    played((answer(), 1.0), engine=engine)
    sound, _ = played((Sound(), 0.5), engine=engine)
    assert np.flatnonzero(np.abs(sound) > 1e-7).max() / RATE < 0.03 + 0.003


def test_its_share_is_what_is_in_the_output_also_when_the_limiter_works() -> None:
    drone = DroneSound(on=True, tones=(ToneSound(116.5, 0.0),), level_db=4.0)
    both = Sound(drone=drone, answer=AnswerSound(on=True, hz=TARGET, level_db=0.0))
    whole, share = played((both, 2.0))
    assert np.abs(whole).max() > 0.85
    rest = whole[RATE:] - share[RATE:]
    # Without the share, nothing is left at the target beside what the limiter makes of the drone.
    turn = np.exp(-2j * np.pi * TARGET * np.arange(len(rest)) / RATE) * np.blackman(len(rest))
    assert abs(rest @ turn) < 1e-3 * abs(share[RATE:] @ turn)


def test_what_is_no_target_is_not_answered() -> None:
    for hz in (float("nan"), 0.0, -5.0, 1e9):
        sound, share = played((answer(hz=hz), 0.6))
        assert not sound.any()
        assert not share.any()


def test_many_changes_at_once_end_in_the_last_one() -> None:
    stretches = [(answer(hz=200.0 + 7.0 * number), 0.011) for number in range(30)]
    sound, _ = played(*stretches, (answer(), 2.0))
    assert np.isfinite(sound).all()
    assert abs(cents_of(line_hz(sound[-RATE:], TARGET) / TARGET)) < 0.01
