"""Catching the key: long notes, passages, profiles, and the partials they come from."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from firmware.heard_events import Heard, PartialsHeard
from firmware.hearing.catch import (
    FORGOTTEN,
    LONGEST,
    PAUSE,
    RECENT,
    CatchState,
    catch,
    catch_key,
    catch_note,
    class_of,
    frame_of,
    hear_note,
    hear_partials,
)
from firmware.hearing.catch_partials import EVERY_HOPS, WINDOW_HOPS, Partials
from firmware.hearing.catch_profiles import AARDEN_ESSEN, KRUMHANSL_KESSLER, PROFILES, fits
from firmware.hearing.chord_spectrum import nothing_removed
from firmware.hearing.own_stream import Hop
from firmware.music.modes import mode_named
from firmware.units import RATE, ratio_of

MAJOR = mode_named("major")
HOP = 1920
FRAME = 7680


def hz_of(midi: float, a4: float = 440.0) -> float:
    return float(a4 * 2 ** ((midi - 69) / 12))


def readings(midi: float, count: int, a4: float = 440.0, first: int = 0) -> tuple[Heard, ...]:
    return tuple(Heard(first + n * HOP, hz_of(midi, a4), 0.95, -20.0) for n in range(count))


def passage(*chords: tuple[int, ...], frames: int = 7, a4: float = 440.0) -> CatchState:
    """Every chord for a second or so, as equally loud partials at the fundamentals."""
    state, at = CatchState(), 0
    for chord in chords:
        for _ in range(frames):
            at += FRAME
            state = hear_partials(state, PartialsHeard(at, tuple((hz_of(m, a4), -20.0) for m in chord)), a4)
    return state


@pytest.mark.parametrize("a4", [392.0, 440.0, 466.0])
def test_every_tonic_from_one_note(a4: float) -> None:
    for midi in range(36, 84):
        caught = catch_note(readings(midi + 0.2, 10, a4), MAJOR, a4)
        assert caught is not None
        assert caught.key.tonic.semitones == midi % 12
        assert caught.second.tonic.semitones == (midi + 1) % 12
        assert caught.confidence > caught.second_confidence > 0
    assert (caught.key.mode, catch_note(readings(60.0 - 0.2, 10), MAJOR, 440.0).second.tonic.text) == (MAJOR, "B")


def test_the_spelling_is_that_of_the_shorter_signature() -> None:
    # Key signatures: common practice (circle of fifths).
    spelt = {"major": "C D♭ D E♭ E F G♭ G A♭ A B♭ B", "minor": "C C♯ D E♭ E F F♯ G G♯ A B♭ B"}
    for mode, names in spelt.items():
        for midi, name in enumerate(names.split(), 48):
            caught = catch_note(readings(midi, 10), mode_named(mode), 440.0)
            assert caught is not None
            assert caught.key.tonic.text == name


def test_a_note_must_be_long_and_alone() -> None:
    assert catch_note((), MAJOR, 440.0) is None
    assert catch_note(readings(60, 6), MAJOR, 440.0) is None
    melody = sum((readings(60 + step, 8, first=step * 8 * HOP) for step in range(4)), ())
    assert catch_note(melody, MAJOR, 440.0) is None
    nothing = Heard(0, None, 0.0, -20.0, "noise")
    assert catch_note((*readings(60, 8), *[nothing] * 8), MAJOR, 440.0) is None
    quiet = replace(nothing, why="silence")
    assert catch_note((*readings(60, 8), *[quiet] * 30), MAJOR, 440.0) is not None


def test_readings_are_forgotten() -> None:
    state = CatchState()
    for reading in readings(60, 100):
        state = hear_note(state, reading)
    assert all(one.at > 99 * HOP - RECENT for one in state.readings)
    assert catch(state, 100 * HOP, MAJOR, 440.0) is not None
    assert catch(state, 100 * HOP + 2 * RECENT, MAJOR, 440.0) is None


def test_partials_that_may_belong_below_count_little() -> None:
    frame = frame_of(PartialsHeard(0, tuple((hz_of(48) * n, -20.0) for n in (1, 2, 3, 4, 5))), 440.0)
    assert frame.bass == 0
    assert frame.chroma[0] > 0.7
    assert frame.chroma[7] == pytest.approx(frame.chroma[4])
    assert sum(frame.chroma) == pytest.approx(1.0)
    assert [class_of(hz, 440.0) for hz in (440.0, 261.63, 246.94, 4186.0)] == [9, 0, 11, 0]


def test_cadences_tell_their_key_in_any_transposition() -> None:
    major = ((48, 64, 67, 72), (53, 65, 69, 72), (55, 62, 67, 71), (48, 64, 67, 72))
    minor = ((48, 63, 67, 72), (53, 65, 68, 72), (55, 62, 67, 71), (48, 63, 67, 72))
    for up in range(12):
        for chords, mode in ((major, "major"), (minor, "minor")):
            state = passage(*(tuple(m + up for m in chord) for chord in chords), a4=443.0)
            caught = catch(state, state.heard_at, MAJOR, 443.0)
            assert caught is not None
            assert (caught.key.tonic.semitones, caught.key.mode.name) == (up, mode)
            assert 1 >= caught.confidence > caught.second_confidence > 0
            assert caught.second != caught.key


def test_a_passage_is_long_enough_ends_with_a_pause_and_is_bounded() -> None:
    assert catch_key(passage((48, 64, 67), frames=10).frames) is None
    assert catch_key(()) is None
    state = passage((48, 64, 67), frames=30)
    last = state.frames[-1].at
    assert hear_partials(state, PartialsHeard(last + 2 * PAUSE, ()), 440.0) == state
    anew = hear_partials(state, PartialsHeard(last + PAUSE + 1, ((440.0, -20.0),)), 440.0)
    assert [frame.bass for frame in anew.frames] == [9]
    assert catch(state, last + FORGOTTEN - 1, MAJOR, 440.0) is not None
    assert catch(state, last + FORGOTTEN, MAJOR, 440.0) is None
    long = passage((48, 64, 67), (55, 59, 62), frames=400)
    assert len(long.frames) <= LONGEST // FRAME + 2
    assert long.frames[0].at == FRAME


def test_profiles_fit_themselves_best() -> None:
    for profile in PROFILES:
        for column, kind in enumerate((profile.major, profile.minor)):
            for tonic in range(12):
                fit = fits(np.roll(np.array(kind), tonic), profile)
                assert np.unravel_index(fit.argmax(), fit.shape) == (tonic, column)
                assert fit.max() == pytest.approx(1.0)
    assert not fits(np.ones(12), AARDEN_ESSEN).any()


def test_krumhansl_and_kessler_as_numpy_correlates_them() -> None:
    chroma = np.array([5.0, 0, 2, 0, 4, 1, 0, 4, 0, 2, 0, 1])
    fit = fits(chroma, KRUMHANSL_KESSLER)
    assert fit[3, 1] == pytest.approx(np.corrcoef(chroma, np.roll(KRUMHANSL_KESSLER.minor, 3))[0, 1])


def hops_of(sound: np.ndarray, removed_power: float = 0.0) -> list[Hop]:
    return [
        Hop(sound[480 * n : 480 * (n + 1)], HOP * (n + 1), nothing_removed, removed_power)
        for n in range(len(sound) // 480)
    ]


def run(hops: list[Hop]) -> list[PartialsHeard]:
    picker = Partials(12_000.0, 480)
    return [event for hop in hops for event in picker.add(hop)]


def test_partials_are_found_to_a_few_cents() -> None:
    time = np.arange(12_000) / 12_000
    sound = 0.1 * np.sin(2 * np.pi * 220.5 * time) + 0.02 * np.sin(2 * np.pi * 700.0 * time)
    events = run(hops_of(sound))
    assert len(events) == 25 // EVERY_HOPS
    assert events[0].partials == ()
    (low, low_db), (high, high_db) = events[-1].partials
    assert abs(1200 * math.log2(low / 220.5)) < 3
    assert abs(1200 * math.log2(high / 700.0)) < 3
    assert (low_db, high_db) == pytest.approx((-20.0, -34.0), abs=0.5)


def test_silence_noise_and_our_own_sound_have_no_partials() -> None:
    noise = 0.01 * np.random.default_rng(2).standard_normal(12_000)
    tone = 0.1 * np.sin(2 * np.pi * 220 * np.arange(12_000) / 12_000)
    assert all(event.partials == () for event in run(hops_of(np.zeros(12_000))))
    assert all(len(event.partials) <= 2 for event in run(hops_of(noise)))
    assert all(event.partials == () for event in run(hops_of(tone, removed_power=1.0)))
    unknown = [replace(hop, removed=None) for hop in hops_of(tone)]
    assert all(event.partials == () for event in run(unknown))
    assert len(unknown) > WINDOW_HOPS


def test_a_sharp_note_leans_upwards() -> None:
    caught = catch_note(tuple(Heard(n, 440.0 * ratio_of(30.0), 1.0, -20.0) for n in range(RATE // HOP)), MAJOR, 440.0)
    assert caught is not None
    assert caught.confidence == pytest.approx(0.7)
    assert caught.second_confidence == pytest.approx(0.3)
