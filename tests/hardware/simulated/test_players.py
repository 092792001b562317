"""Virtual players sound at the pitch, level and time that their note says."""

import numpy as np
import pytest

from firmware.units import RATE
from hardware.simulated.players import PlayedNote, Voice, cents_at, section
from hardware.simulated.timbres import player_timbre

BLOCK = 512


def sound_of(voices: tuple[Voice, ...], seconds: float, block: int = BLOCK) -> np.ndarray:
    count = round(seconds * RATE)
    out = np.zeros(count, np.float32)
    for at in range(0, count, block):
        for voice in voices:
            voice.add_to(out[at : at + block], at)
    return out


def voice(timbre: str = "horn", seed: int = 1, **note: float) -> Voice:
    played = PlayedNote(**({"hz": 293.4, "start": 0, "length": 3 * RATE} | note))  # type: ignore[arg-type]  # all numbers
    return Voice(player_timbre(timbre), played, np.random.default_rng(seed))


def measured_cents(sound: np.ndarray, hz: float, centre: float, width: float) -> float:
    """Cents above hz, from the turning of the fundamental's phase between two windows `width` apart."""
    window = np.hanning(round(width * RATE))
    phases = []
    for place in (centre - width / 2, centre + width / 2):
        start = round(place * RATE) - len(window) // 2
        times = np.arange(start, start + len(window)) / RATE
        part = sound[start : start + len(window)].astype(float)
        phases.append(np.angle(np.sum(part * window * np.exp(-2j * np.pi * hz * times))))
    turned = np.angle(np.exp(1j * (phases[1] - phases[0])))
    return 1200 * np.log2(1 + turned / (2 * np.pi * width) / hz)


@pytest.mark.parametrize("timbre", ["flute", "clarinet", "tuba"])
@pytest.mark.parametrize("cents", [-31.0, 0.0, 4.25])
def test_a_steady_note_has_its_pitch(timbre: str, cents: float):
    sound = sound_of((voice(timbre, cents=cents, settle_to=cents),), 2.5)
    assert measured_cents(sound, 293.4 * 2 ** (cents / 1200), 1.2, 0.4) == pytest.approx(0.0, abs=0.05)


def test_a_note_settles_as_it_is_told():
    note = {"cents": 20.0, "settle_to": -2.0, "settle_after": 0.5, "settle_s": 1.5}
    sound = sound_of((voice(**note),), 3.0)
    assert measured_cents(sound, 293.4, 0.3, 0.1) == pytest.approx(20.0, abs=0.2)
    for at in (0.8, 1.3, 2.0, 2.8):
        truth = float(cents_at(PlayedNote(293.4, 0, 1, **note), np.array([at]))[0])
        assert measured_cents(sound, 293.4, at, 0.1) == pytest.approx(truth, abs=0.3)


def test_the_way_is_95_percent_done_when_it_says():
    note = PlayedNote(440.0, 0, 1, cents=10.0, settle_to=0.0, settle_after=1.0, settle_s=2.0)
    assert cents_at(note, np.array([0.0, 1.0, 3.0])) == pytest.approx([10.0, 10.0, 10 * np.exp(-3)])
    at_once = PlayedNote(440.0, 0, 1, cents=10.0, settle_to=1.0, settle_after=1.0)
    assert cents_at(at_once, np.array([0.0, 1.0, 1.001])) == pytest.approx([10.0, 10.0, 1.0])


def test_vibrato_swings_about_the_pitch():
    note = {"vibrato": 12.0, "vibrato_hz": 5.0, "length": 3 * RATE}
    sound = sound_of((voice("flute", **note),), 3.0)
    # one whole swing averages out
    assert measured_cents(sound, 293.4, 1.5, 0.2) == pytest.approx(0.0, abs=1.0)
    found = [measured_cents(sound, 293.4, at, 0.03) for at in np.arange(1.0, 1.4, 0.005)]
    assert max(found) == pytest.approx(12.0, abs=1.5)
    assert min(found) == pytest.approx(-12.0, abs=1.5)


def test_level_is_rms_at_the_microphone():
    sound = sound_of((voice("trombone", level_db=-20.0),), 2.0).astype(float)
    assert 20 * np.log10(np.sqrt(np.mean(sound[RATE // 2 :] ** 2))) == pytest.approx(-20.0, abs=0.1)


def test_it_begins_and_ends_at_its_samples_without_a_step():
    played = voice(start=1000, length=RATE // 2)
    sound = sound_of((played,), 1.0)
    assert not sound[:1000].any()
    assert not sound[played.end :].any()
    assert np.abs(sound[1001:2000]).max() > 0
    assert np.abs(sound[1000:1020]).max() < 1e-3
    assert np.abs(sound[played.end - 20 : played.end]).max() < 1e-3
    assert played.end == 1000 + RATE // 2 + round(0.12 * RATE)


def test_a_note_shorter_than_its_attack_is_only_softer():
    short, long = (np.abs(sound_of((voice(length=length),), 0.5)).max() for length in (100, RATE))
    assert 0 < short < long


def test_blocks_of_any_size_give_the_same_sound():
    note = {"cents": 9.0, "settle_s": 1.0, "vibrato": 3.0}
    whole = sound_of((voice(**note),), 1.0, RATE)
    assert sound_of((voice(**note),), 1.0, 100) == pytest.approx(whole, abs=1e-6)


def test_a_section_is_as_loud_as_its_note_says_and_differs():
    note = PlayedNote(220.0, 100, RATE, cents=5.0, settle_to=1.0, level_db=-20.0)
    voices = section(player_timbre("strings"), note, 9, 4.0, np.random.default_rng(2))
    assert voices[0].note.cents == 5.0
    assert voices[0].note.start == 100
    assert sum(10 ** (each.note.level_db / 10) for each in voices) == pytest.approx(10**-2)
    off = [each.note.settle_to - 1.0 for each in voices[1:]]
    assert 1.5 < np.std(off) < 8.0
    assert [each.note.cents - 5.0 for each in voices[1:]] == pytest.approx(off)
    assert all(100 <= each.note.start <= 100 + 0.03 * RATE for each in voices)


def test_one_seed_makes_one_performance():
    sounds = [sound_of((voice("flute", seed),), 0.5) for seed in (1, 1, 2)]
    assert np.array_equal(sounds[0], sounds[1])
    assert not np.array_equal(sounds[0], sounds[2])
