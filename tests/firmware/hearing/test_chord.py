"""The chord check: cents and level of each degree, what can't be heard apart, which chord of the key it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from firmware.heard_events import ChordDegree, ChordHeld, ChordRead
from firmware.hearing.chord import ABSENT, DISAGREE, TOGETHER, DegreeReading, Target, level_step, octaves_of, read_chord
from firmware.hearing.chord_change import Profile, alike
from firmware.hearing.chord_check import ChordCheck
from firmware.hearing.chord_find import chord_of, chords_of, find_chord
from firmware.hearing.chord_spectrum import ChordSpectrum, nothing_removed, partials_apart
from firmware.hearing.filters import Signal
from firmware.hearing.own_stream import CleanedStream, Hop
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.units import RATE, Samples, gain_of, ratio_of

SLOW = 12_000.0
ROOT = 116.540940
"""B♭2 in equal temperament from A4 = 440 Hz (MIDI 46; ISO 16)."""

KEY = Harmony(key_of("Bb", "major"))
TRIAD = (Target("1", "B♭", ROOT), Target("3", "D", ROOT * 5 / 4), Target("5", "F", ROOT * 3 / 2))


def tone(hz: float, cents: float, seconds: float, rate: float = SLOW, level_db: float = -30.0, seed: int = 0) -> Signal:
    """Twelve partials, each 4 dB under the one before, at random phases."""
    phases = np.random.default_rng(seed).uniform(0, 2 * np.pi, 12)
    time = np.arange(round(seconds * rate)) / rate
    sound = np.zeros(len(time))
    for number in range(1, 13):
        turn = 2 * np.pi * number * hz * ratio_of(cents)
        if number * hz < 0.45 * rate:
            sound += gain_of(level_db - 4 * (number - 1)) * np.cos(turn * time + phases[number - 1])
    return sound


def noise(seconds: float, rate: float = SLOW, level_db: float = -80.0) -> Signal:
    return gain_of(level_db) * np.random.default_rng(9).standard_normal(round(seconds * rate))


def chord(parts: Sequence[tuple[float, float]], seconds: float = 1.4, rate: float = SLOW) -> Signal:
    """Sum of tones, each (Hz, cents off)."""
    tones = [tone(hz, cents, seconds, rate, seed=seed) for seed, (hz, cents) in enumerate(parts)]
    return np.sum(tones, axis=0) + noise(seconds, rate)


def read(parts: Sequence[tuple[float, float]], targets: Sequence[Target] = TRIAD) -> tuple[DegreeReading, ...]:
    return read_chord(ChordSpectrum(chord(parts), SLOW), targets)


def test_each_degree_is_read_to_a_tenth_of_a_cent() -> None:
    for octave in (1, 2, 4):
        hz = ROOT * octave
        degrees = read([(hz, 7.0), (hz * 5 / 4, -11.0), (hz * 3 / 2, 3.0)])
        assert [degree.why for degree in degrees] == ["", "", ""]
        assert [degree.cents for degree in degrees] == pytest.approx([7.0, -11.0, 3.0], abs=0.1)
        assert degrees[0].lowest_hz == pytest.approx(hz)


def test_what_lies_on_the_partials_of_another_is_not_guessed() -> None:
    # By the ratios alone: 5 is the root's fifth partial, 3 its third.
    hidden = read([(ROOT, 2.0), (ROOT * 5, -9.0), (ROOT * 3 / 2, 3.0)])
    assert [degree.why for degree in hidden] == ["", TOGETHER, ""]
    assert hidden[1].cents is None
    assert read([(ROOT, 2.0), (ROOT * 5 / 4, 0.0), (ROOT * 3, 9.0)])[2].why == TOGETHER
    alone = read([(ROOT, 2.0)])
    assert [degree.why for degree in alone] == ["", TOGETHER, TOGETHER]


def test_what_is_not_there_is_said_to_be_absent() -> None:
    degrees = read([(ROOT, 2.0)], (*TRIAD, Target("4", "E♭", ROOT * 4 / 3)))
    assert degrees[3].why == ABSENT


def test_octave_doublings_change_nothing() -> None:
    doubled = [
        (ROOT, 4.0),
        (2 * ROOT, 4.0),
        (ROOT * 5 / 4, -6.0),
        (ROOT * 5 / 2, -6.0),
        (ROOT * 3, 1.0),
        (ROOT * 6, 1.0),
    ]
    degrees = read(doubled)
    assert [degree.cents for degree in degrees[:2]] == pytest.approx([4.0, -6.0], abs=0.2)
    assert degrees[2].why == TOGETHER


def test_partials_that_disagree_are_refused() -> None:
    # A tone stretched as no player's is: partials 2 to 6 rise by 9 cents each.
    seconds, time = 1.4, np.arange(round(1.4 * SLOW)) / SLOW
    sound = noise(seconds)
    for number in range(1, 7):
        sound += gain_of(-30.0) * np.cos(2 * np.pi * 2 * ROOT * number * ratio_of(9.0 * (number - 3)) * time)
    (degree,) = read_chord(ChordSpectrum(sound, SLOW), TRIAD[:1])
    assert degree.why in {DISAGREE, ""}
    assert (degree.why == DISAGREE) == (degree.cents is None)


def test_levels_in_three_steps() -> None:
    sounds = [
        tone(hz, 0.0, 1.4, level_db=level) for hz, level in ((ROOT, -30), (ROOT * 5 / 4, -42), (ROOT * 3 / 2, -20))
    ]
    degrees = read_chord(ChordSpectrum(np.sum(sounds, axis=0) + noise(1.4), SLOW), TRIAD)
    assert [level_step(degree.level_db or 0.0) for degree in degrees] == ["even", "soft", "loud"]
    assert degrees[1].level_db == pytest.approx(-12.0, abs=3.0)
    assert degrees[2].level_db == pytest.approx(10.0, abs=3.0)


def test_what_may_be_left_of_our_own_sound_is_not_read() -> None:
    sound = chord([(ROOT, 0.0), (ROOT * 5 / 4, 0.0), (ROOT * 3 / 2, 0.0)])
    strong = ChordSpectrum(sound, SLOW, lambda hz: np.full(len(hz), 10.0))
    assert all(not degree.accepted for degree in read_chord(strong, TRIAD))
    assert find_chord(strong, KEY) is None


def test_free_partials_by_hand() -> None:
    # Root and fifth 2:3 share every sixth of the lower unit: the root's 3, 6, 9 and the fifth's 2, 4, 6.
    root, fifth = 200.0, 300.0
    assert [n for n, _ in partials_apart(root, np.array([fifth]), 1.4, 2000.0, 24)] == [1, 2, 4, 5, 7, 8, 10]
    assert [n for n, _ in partials_apart(fifth, np.array([root]), 1.4, 2000.0, 24)] == [1, 3, 5]


def test_where_our_own_sound_covers_the_root_its_partials_are_still_kept_free() -> None:
    # The fifth plays only odd partials (a clarinet); what lies on its second is the root's third, 20 cents flat.
    time = np.arange(16_800) / SLOW
    sound = tone(ROOT, -20.0, 1.4) + noise(1.4)
    for number in (1, 3, 5):
        sound += gain_of(-30.0) * np.cos(2 * np.pi * number * 1.5 * ROOT * ratio_of(10.0) * time)

    def removed(hz: Signal) -> Signal:
        return np.where(np.abs(hz - ROOT) < 3.0, 10.0, 0.0)

    degrees = read_chord(ChordSpectrum(sound, SLOW, removed), (TRIAD[0], TRIAD[2]))
    assert [degree.cents for degree in degrees] == pytest.approx([-20.0, 10.0], abs=0.3)


def test_octaves_of_a_target_span_the_ensemble() -> None:
    assert octaves_of(ROOT * 8) == pytest.approx([ROOT / 2, ROOT, 2 * ROOT, 4 * ROOT, 8 * ROOT])


@pytest.mark.parametrize(("tonic", "mode"), [("Bb", "major"), ("D", "minor"), ("C", "chromatic"), ("E", "dorian")])
def test_the_chord_of_the_key_is_found(tonic: str, mode: str) -> None:
    harmony = Harmony(key_of(tonic, mode), a4=442.0)
    for wanted in chords_of(harmony):
        lows = [target.hz / 2 for target in wanted.targets]
        closed = [(hz if hz >= lows[0] * 0.99 else 2 * hz, 5.0 * (-1) ** n) for n, hz in enumerate(lows)]
        found = find_chord(ChordSpectrum(chord(closed), SLOW), harmony)
        assert found is not None
        assert found.name == wanted.name


def test_names_of_chords() -> None:
    names = {(c.degree, len(c.targets)): c.name for c in chords_of(KEY)}
    # Chords of B♭ major as any harmony primer has them: common practice.
    assert names["1", 3] == "B♭ major"
    assert names["2", 3] == "C minor"
    assert names["7", 3] == "A diminished"
    assert names["5", 4] == "F dominant seventh"
    assert names["1", 4] == "B♭ major seventh"
    assert names["7", 4] == "A half-diminished seventh"
    assert chord_of(replace(KEY, shape="fifth")).name == "B♭ open fifth"
    assert chord_of(KEY).name == "B♭ unison"


def test_one_tone_is_no_chord() -> None:
    assert find_chord(ChordSpectrum(chord([(ROOT, 0.0)]), SLOW), KEY) is None
    assert find_chord(ChordSpectrum(np.zeros(16_800), SLOW), KEY) is None


def test_a_change_of_one_tone_changes_the_profile() -> None:
    profile = Profile(3840, SLOW)
    one = chord([(ROOT, 0.0), (ROOT * 5 / 4, 0.0), (ROOT * 3 / 2, 0.0)])
    other = chord([(ROOT * 4 / 3, 0.0), (ROOT * 5 / 3, 0.0), (ROOT, 0.0)])
    assert alike(profile.of(one[:3840]), profile.of(one[8000:11_840]))
    assert not alike(profile.of(one[:3840]), profile.of(other[:3840]))
    assert not alike(profile.of(np.zeros(3840)), profile.of(one[:3840]))


def hops_of(sound: Signal) -> list[Hop]:
    count = len(sound) // 480
    return [Hop(sound[480 * n : 480 * (n + 1)], 1920 * (n + 1), nothing_removed, 0.0) for n in range(count)]


def run(check: ChordCheck, hops: Sequence[Hop]) -> list[ChordRead | ChordHeld]:
    return [one for hop in hops for one in check.add(hop)]


def check_of(harmony: Harmony = KEY, *, told: bool = False) -> ChordCheck:
    return ChordCheck(harmony, told=told, rate=SLOW, hop=480)


def test_a_held_chord_is_read_again_and_again_and_judged_at_its_end() -> None:
    sound = chord([(ROOT, 6.0), (ROOT * 5 / 4, -8.0), (ROOT * 3 / 2, 0.0)], 2.4)
    told = run(check_of(), hops_of(np.concatenate([noise(0.4), sound, noise(0.4)])))
    live = [one for one in told if isinstance(one, ChordRead) and one.chord]
    assert len(live) == 4
    assert [degree.cents for degree in live[0].degrees] == pytest.approx([6.0, -8.0, 0.0], abs=0.3)
    (held,) = [one for one in told if isinstance(one, ChordHeld)]
    assert (held.chord, held.degree) == ("B♭ major", "1")
    assert [(d.degree, d.note, d.accepted) for d in held.degrees] == [
        ("1", "B♭", True),
        ("3", "D", True),
        ("5", "F", True),
    ]
    assert held.seconds == pytest.approx(2.4 - 0.16, abs=0.1)
    assert held.start == pytest.approx(0.4 * RATE, abs=0.08 * RATE)
    assert all(degree.seconds >= 1.0 for degree in held.degrees)
    assert told[-1] == ChordRead(held.at, held.at, "", "", 0.0, ())


def test_a_new_chord_ends_the_old_one() -> None:
    one = chord([(ROOT, 0.0), (ROOT * 5 / 4, 0.0), (ROOT * 3 / 2, 0.0)], 2.0)
    other = chord([(ROOT * 4 / 3, 0.0), (ROOT * 5 / 3, 0.0), (ROOT * 2, 0.0)], 2.0)
    check = check_of()
    told = run(check, hops_of(np.concatenate([one, other])))
    told += check.finish()
    assert [event.chord for event in told if isinstance(event, ChordHeld)] == ["B♭ major", "E♭ major"]


def test_a_told_chord_is_not_searched() -> None:
    harmony = replace(KEY, shape="triad", chord_degree=7)
    check = check_of(harmony, told=True)
    run(check, hops_of(chord([(ROOT * 3 / 2, 0.0), (ROOT * 15 / 8, 5.0)], 1.6)))
    held = check.finish()[0]
    assert (held.chord, held.degree) == ("F major", "5")
    assert held.degrees[2] == ChordDegree("2", "C", None, "", accepted=False, why=TOGETHER, seconds=0.0)


def test_short_or_unknown_or_own_sound_is_no_chord() -> None:
    check = check_of()
    sound = chord([(ROOT, 0.0), (ROOT * 3 / 2, 0.0)], 2.0)
    assert run(check, hops_of(sound[:9600])) == []
    assert check.finish() == ()
    assert run(check, [replace(hop, removed=None) for hop in hops_of(sound)]) == []
    assert run(check, [replace(hop, removed_power=1.0) for hop in hops_of(sound)]) == []


def test_a_chord_without_end_is_judged_in_parts() -> None:
    check = check_of()
    hops = hops_of(chord([(ROOT, 0.0), (ROOT * 5 / 4, 0.0), (ROOT * 3 / 2, 0.0)], 2.0))
    told = [one for _ in range(33) for one in run(check, hops)]
    assert len([one for one in told if isinstance(one, ChordHeld)]) >= 1
    assert len(check._readings) < 160


def blocks(sound: Samples) -> list[Samples]:
    return [sound[at : at + 1000] for at in range(0, len(sound), 1000)]


def test_the_stream_hands_on_the_microphone_when_the_box_is_silent() -> None:
    stream = CleanedStream()
    mic = (0.1 * np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)).astype(np.float32)
    hops = [hop for block in blocks(mic) for hop in stream.process(block, np.zeros(len(block), np.float32))]
    assert len(hops) == 25
    assert hops[10].removed is nothing_removed
    assert np.std(hops[10].rest) == pytest.approx(0.1 / np.sqrt(2), rel=0.01)
    assert hops[-1].end < RATE


def test_the_stream_takes_our_own_sound_out_and_leaves_a_player_at_unison() -> None:
    stream = CleanedStream()
    time = np.arange(6 * RATE) / RATE
    own = (0.1 * np.sin(2 * np.pi * 233.08 * time)).astype(np.float32)
    player = np.where(time > 4.0, 0.05 * np.sin(2 * np.pi * 233.08 * time + 1.0), 0.0)
    mic = (0.5 * np.roll(own, 400) + player).astype(np.float32)
    hops = [hop for m, o in zip(blocks(mic), blocks(own), strict=True) for hop in stream.process(m, o)]
    assert hops[2].removed is None
    assert np.std(hops[90].rest) < 1e-3
    assert np.std(hops[-1].rest) == pytest.approx(0.05 / np.sqrt(2), rel=0.05)
    assert hops[90].removed_power == pytest.approx(0.5 * 0.05**2, rel=0.05)
