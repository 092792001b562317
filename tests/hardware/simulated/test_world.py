"""The microphone hears loudspeaker, players and noise, at the times and pitches that the script gives."""

import numpy as np
import pytest

from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.music.modes import MODES
from firmware.units import BLOCK, RATE, cents_of
from hardware.simulated.players import PlayedNote, Voice
from hardware.simulated.room import Room
from hardware.simulated.script import Play, Player, Script
from hardware.simulated.timbres import player_timbre
from hardware.simulated.world import World, played_note, responses, semitones_of, target_hz

DRY = Room(rt60=0.0, delay_ms=10.0, latency=1536, speaker_db=-12.0, player_ms=0.0, noise_db=-120.0)
B_FLAT = Harmony(key_of("Bb", "major"))
HORN = Player("horn", player_timbre("horn"))


def run(world: World, blocks: int, speaker: np.ndarray | None = None) -> np.ndarray:
    """Run the loop of loudspeaker and microphone; the speaker's sound begins with the first block."""
    sound = np.zeros((blocks + 1, BLOCK), np.float32)
    if speaker is not None:
        sound[1:].reshape(-1)[: len(speaker)] = speaker
    return np.concatenate([world.block(block) for block in sound[:blocks]])


def test_a_click_of_the_loudspeaker_arrives_after_latency_and_travel_at_its_level():
    click = np.zeros(100, np.float32)
    click[37] = 0.5
    mic = run(World(Script("x", 1.0, room=DRY), lambda: B_FLAT), 20, click)
    arrival = 37 + 1536 + 480
    assert np.abs(mic).argmax() == arrival
    assert mic[arrival] == pytest.approx(0.5 * 10 ** (-12 / 20), abs=1e-4)
    assert np.abs(np.delete(mic, arrival)).max() < 1e-4


def test_the_loudspeaker_is_heard_through_its_response():
    room = Room(rt60=0.1, noise_db=-120.0)
    generator = np.random.default_rng(1)
    speaker = 0.1 * generator.standard_normal(8 * BLOCK).astype(np.float32)
    mic = run(World(Script("x", 1.0, room=room), lambda: B_FLAT), 40, speaker)
    whole = np.convolve(speaker.astype(float), responses(room, 1, BLOCK)[1].astype(float))
    late = np.concatenate((np.zeros(BLOCK), whole))[: len(mic)]
    assert mic[: len(late)] == pytest.approx(late, abs=2e-5)


def test_a_player_is_heard_at_its_time():
    play = Play(0.1, HORN, 0.2, degree="1", octave=3)
    mic = run(World(Script("x", 1.0, room=DRY, plays=(play,)), lambda: B_FLAT), 60)
    alone = np.zeros(len(mic), np.float32)
    note = PlayedNote(hz=target_hz(play, B_FLAT), start=4800, length=9600, level_db=-24.0)
    Voice(HORN.timbre, note, np.random.Generator(np.random.PCG64((1, 2, 0)))).add_to(alone, 0)
    assert mic == pytest.approx(alone, abs=1e-4)


def test_players_follow_the_key_that_the_box_is_in_when_their_note_begins():
    keys = [B_FLAT, Harmony(key_of("Eb", "major"))]
    plays = tuple(Play(at, HORN, 0.1, degree="3", octave=3) for at in (0.0, 0.5))
    world = World(Script("x", 1.0, room=DRY, plays=plays), lambda: keys[0])
    run(world, 30)
    keys.pop(0)
    run(world, 30)
    assert world.position == 60 * BLOCK
    # D4 and G3 as just thirds: 5/4 above B♭3 and E♭3 of equal temperament (A4 = 440, ISO 16)
    thirds = [target_hz(play, key) for play, key in zip(plays, (B_FLAT, Harmony(key_of("Eb"))), strict=True)]
    assert thirds == pytest.approx([440 * 2 ** (-11 / 12) * 1.25, 440 * 2 ** (-18 / 12) * 1.25])


@pytest.mark.parametrize("tuning", ["just", "equal", "meantone", "werckmeister-3"])
@pytest.mark.parametrize("a4", [430.0, 442.0])
def test_notes_by_name_and_by_degree_are_the_same_pitch(tuning: str, a4: float):
    harmony = Harmony(key_of("D", "minor"), tuning=tuning, a4=a4)
    by_degree = Play(0.0, HORN, 1.0, degree="3", octave=4)
    by_name = Play(0.0, HORN, 1.0, note="F4")
    assert target_hz(by_degree, harmony) == pytest.approx(target_hz(by_name, harmony))
    equal = a4 * 2 ** (-4 / 12)
    assert abs(cents_of(target_hz(by_name, harmony) / equal)) < 25.0


def test_degrees_are_counted_as_the_mode_does():
    assert semitones_of("3", key_of("C", "major")) == 4
    assert semitones_of("3", key_of("C", "minor")) == 3
    assert semitones_of("♭7", key_of("C", "major")) == 10
    for mode in MODES:
        key = key_of("C", mode)
        assert [semitones_of(key.label(n), key) for n in range(12)] == list(range(12))
        for degree in ("1", "♭3", "♯4", "7"):
            assert 0 <= semitones_of(degree, key) < 12


def test_all_that_a_script_says_of_a_note_is_played():
    play = Play(1.0, HORN, 2.0, "5", None, 3, 9.0, 1.0, 3.0, 0.5, 4.0, 6.0, -30.0)
    note = played_note(play, B_FLAT)
    assert note == PlayedNote(target_hz(play, B_FLAT), RATE, 2 * RATE, 9.0, 1.0, 3.0, 0.5, 4.0, 6.0, -30.0)


def test_noise_is_always_there_and_goes_on_round_its_end():
    world = World(Script("x", 1.0, room=Room(noise_db=-60.0)), lambda: B_FLAT)
    world.position = (1 << 19) - BLOCK // 2
    noise = world.block(np.zeros(BLOCK, np.float32))
    assert 20 * np.log10(np.std(noise)) == pytest.approx(-60.0, abs=6.0)


def test_the_microphone_clips_like_a_converter():
    loud = Play(0.0, Player("tuba", player_timbre("tuba")), 1.0, degree="1", level_db=6.0)
    mic = run(World(Script("x", 1.0, room=DRY, plays=(loud,)), lambda: B_FLAT), 60)
    assert mic.max() == 1.0
    assert mic.min() == -1.0


def test_one_seed_makes_one_rehearsal():
    section = Player("flutes", player_timbre("flute"), count=3)
    plays = (Play(0.0, section, 0.2, degree="1"), Play(0.1, section, 0.2, degree="5"))
    runs = [run(World(Script("x", 1.0, seed, plays=plays), lambda: B_FLAT), 30) for seed in (1, 1, 2)]
    assert np.array_equal(runs[0], runs[1])
    assert not np.array_equal(runs[0], runs[2])
    assert runs[0].dtype == np.float32
