"""The ear on sampled wind instruments, rendered by FluidSynth from the FluidR3 soundfont (both from Debian).

What is true here: the samples are a few cents off their key and carry the players' own vibrato, so the pitch of one
note says nothing about the ear to better than that. Two checks are fair:

- the same sample played with two different pitch bends differs by the difference of the bends, whatever the sample does
  (MIDI 1.0: bend of 14 bits, range set by RPN 0; FluidSynth cuts to whole cents, so whole cents are used);
- one sample against an estimate that shares no code with the ear: centroids of its first partials in a zero-padded
  spectrum of a whole second, by scipy.
"""

from __future__ import annotations

import math
import shutil
import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import get_window

from firmware.hearing.ear import Ear

RATE = 48_000
SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
NOTE_SECONDS = 2.5
GAP_SECONDS = 1.02
BENDS = (0, 17, -31)

# General MIDI programs counted from 0 (MIDI Association, General MIDI Level 1), a note in the middle of each compass
INSTRUMENTS = {
    "trumpet": (56, 70),
    "trombone": (57, 53),
    "tuba": (58, 41),
    "bassoon": (70, 48),
    "clarinet": (71, 62),
    "flute": (73, 77),
}

pytestmark = [
    pytest.mark.soundfont,
    pytest.mark.skipif(
        shutil.which("fluidsynth") is None or not SOUNDFONT.exists(),
        reason="not installed: apt install fluidsynth fluid-soundfont-gm",
    ),
]


def variable(number: int) -> bytes:
    """A variable-length quantity of a Standard MIDI File."""
    groups = [number & 0x7F]
    while number := number >> 7:
        groups.append(0x80 | (number & 0x7F))
    return bytes(groups[::-1])


def midi_file(program: int, key: int) -> bytes:
    """One note for each bend, in a file of 1000 ticks a second."""
    ticks = 1000
    events = [(0, bytes([0xC0, program])), (0, bytes([0xB0, 91, 0])), (0, bytes([0xB0, 93, 0]))]
    # registered parameter 0: bend range of 2 semitones
    events += [(0, bytes([0xB0, control, value])) for control, value in ((101, 0), (100, 0), (6, 2), (38, 0))]
    for bend in BENDS:
        # half a cent more, which FluidSynth cuts off again; a fall is cut towards zero and needs next to none
        value = 8192 + (math.floor((bend + 0.5) / 200 * 8192) if bend > 0 else math.floor(bend / 200 * 8192))
        events += [
            (0, bytes([0xE0, value & 0x7F, value >> 7])),
            (0, bytes([0x90, key, 90])),
            (int(NOTE_SECONDS * ticks), bytes([0x80, key, 0])),
            (int(GAP_SECONDS * ticks), bytes([0xB0, 1, 0])),
        ]
    track = b"".join(variable(delta) + message for delta, message in [(0, b"\xff\x51\x03\x0f\x42\x40"), *events])
    track += b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, ticks) + b"MTrk" + struct.pack(">I", len(track)) + track


def rendered(folder: Path, program: int, key: int) -> np.ndarray:
    """Sound of the notes, dry, mixed to mono."""
    song, wave = folder / "song.mid", folder / "song.wav"
    song.write_bytes(midi_file(program, key))
    command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(RATE), "-O", "float"]
    subprocess.run([*command, "-F", str(wave), str(SOUNDFONT), str(song)], check=True, capture_output=True, timeout=60)
    sound, rate = soundfile.read(wave, dtype="float64", always_2d=True)
    assert rate == RATE
    return sound.mean(axis=1)


def heard_cents(sound: np.ndarray, nominal: float) -> list[np.ndarray]:
    """Cents from nominal in the steady part of each note, as the ear reads them."""
    readings = Ear().process(sound.astype(np.float32), np.zeros(len(sound), np.float32))
    result = []
    for index in range(len(BENDS)):
        start = index * (NOTE_SECONDS + GAP_SECONDS)
        steady = [r for r in readings if (start + 0.6) * RATE < r.at < (start + NOTE_SECONDS - 0.2) * RATE]
        values = [1200 * np.log2(r.hz / nominal) for r in steady if r.hz is not None]
        assert len(values) >= 0.9 * len(steady)
        result.append(np.array(values))
    return result


def spectral_cents(sound: np.ndarray, nominal: float, bend: float) -> float:
    """Cents from nominal by the power centroids of up to four partials over one second."""
    spectrum = np.abs(np.fft.rfft(sound * get_window("hann", len(sound)), 8 * len(sound))) ** 2
    hz = np.arange(len(spectrum)) * RATE / (8 * len(sound))
    cents, weights = [], []
    for number in range(1, 5):
        centre = number * nominal * 2 ** (bend / 1200)
        near = np.abs(hz - centre) < 0.02 * centre
        power = float(spectrum[near].sum())
        cents.append(1200 * np.log2(float((hz[near] * spectrum[near]).sum()) / power / (number * nominal)))
        weights.append(power)
    return float(np.average(cents, weights=weights))


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_bends_of_a_sampled_instrument_are_heard(tmp_path: Path, name: str):
    program, key = INSTRUMENTS[name]
    nominal = 440 * 2 ** ((key - 69) / 12)
    sound = rendered(tmp_path, program, key)
    notes = heard_cents(sound, nominal)
    middles = [float(np.mean(values)) for values in notes]
    for values in notes:  # never an octave off, never far from the note
        assert np.abs(values).max() < 70
    steady = notes[0].std() < 0.5  # a sample without vibrato leaves nothing to average over
    for bend, middle in zip(BENDS[1:], middles[1:], strict=True):
        assert middle - middles[0] == pytest.approx(bend - BENDS[0], abs=0.1 if steady else 1.0)


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_the_mean_agrees_with_an_independent_long_spectrum(tmp_path: Path, name: str):
    program, key = INSTRUMENTS[name]
    nominal = 440 * 2 ** ((key - 69) / 12)
    sound = rendered(tmp_path, program, key)
    readings = Ear().process(sound.astype(np.float32), np.zeros(len(sound), np.float32))
    for index, bend in enumerate(BENDS):
        start = index * (NOTE_SECONDS + GAP_SECONDS) + 0.8
        inside = [r for r in readings if (start + 0.08) * RATE < r.at < (start + 0.92) * RATE]
        read = [(1200 * np.log2(r.hz / nominal), 10 ** (r.level_db / 10)) for r in inside if r.hz is not None]
        assert len(read) >= 0.9 * len(inside)
        # a spectrum weighs each moment by its power, so the readings are weighed alike
        mean = np.average([value for value, _ in read], weights=[weight for _, weight in read])
        spread = float(np.std([value for value, _ in read]))  # a wide vibrato has no one pitch
        truth = spectral_cents(sound[int(start * RATE) : int((start + 1) * RATE)], nominal, bend)
        assert mean == pytest.approx(truth, abs=max(1.0, 0.8 * spread))
