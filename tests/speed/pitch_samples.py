"""Sixteen sampled instruments with known pitch bends, rendered by FluidSynth from FluidR3 (both from Debian).

What is true here: a sample is some cents off its key and moves as its player did, so a reading of one note is known no
better than that. But FluidSynth bends a note by playing the same sample faster, so the sound of a bent note is that of
the unbent one in another time: `bent(t) = plain(ratio * t)`. Its ratio is a whole number of cents (what is left of a
cent is cut off); `made_bend` measures it from the two sounds themselves without reading any pitch: within 0.0001 cent.
The soundfont's clarinet is not here: something moves its pitch by itself (0.2 cents between two notes of one key), so
there is no truth to measure by.
"""

from __future__ import annotations

import math
import struct
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from firmware.units import RATE

SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
BENDS = (0, 17, -31)
SECONDS = 2.0
APART = 3.0
BEGIN = 0.6
"""Seconds after which the attack is over."""
WINDOW = 4096
WINDOWS = 4
"""Windows of 85 ms in each note, 0.3 s apart."""

# General MIDI programs counted from 0 (MIDI Association, General MIDI Level 1); keys from the middle of each compass
INSTRUMENTS = {
    "violin": (40, (57, 69, 79)),
    "viola": (41, (50, 60, 69)),
    "cello": (42, (40, 50, 60)),
    "contrabass": (43, (31, 38, 45)),
    "trumpet": (56, (58, 66, 74)),
    "trombone": (57, (46, 53, 60)),
    "tuba": (58, (34, 41, 48)),
    "horn": (60, (46, 53, 62)),
    "soprano saxophone": (64, (60, 67, 76)),
    "alto saxophone": (65, (53, 62, 70)),
    "tenor saxophone": (66, (48, 56, 65)),
    "baritone saxophone": (67, (41, 50, 58)),
    "oboe": (68, (62, 69, 77)),
    "English horn": (69, (55, 62, 70)),
    "bassoon": (70, (38, 48, 58)),
    "flute": (73, (64, 74, 84)),
}


@dataclass(frozen=True, slots=True)
class Note:
    """The sounds of one key of one instrument, plain and bent, in the order of `BENDS`; hz is that of the key."""

    instrument: str
    hz: float
    sounds: tuple[np.ndarray, ...]


def rendered() -> list[Note]:
    """Every instrument, key and bend, dry and mono."""
    wanted = [(program, key, bend) for program, keys in INSTRUMENTS.values() for key in keys for bend in BENDS]
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder, "notes.mid"), Path(folder, "notes.wav")
        midi.write_bytes(_midi_file(wanted))
        options = ["-o", "synth.reverb.active=0", "-o", "synth.chorus.active=0", "-O", "float"]
        command = ["fluidsynth", "-ni", "-q", "-g", "0.6", "-r", str(RATE), *options, "-F", wave, SOUNDFONT, midi]
        subprocess.run(command, check=True, capture_output=True, timeout=300)
        sound = soundfile.read(wave, dtype="float64", always_2d=True)[0].mean(axis=1)
    notes, at = [], 0
    for name, (_, keys) in INSTRUMENTS.items():
        for key in keys:
            cut = []
            for _ in BENDS:
                first = round(at * APART * RATE)
                cut.append(sound[first : first + round(SECONDS * RATE)])
                at += 1
            notes.append(Note(name, 440 * 2 ** ((key - 69) / 12), tuple(cut)))
    return notes


def _midi_file(wanted: list[tuple[int, int, int]]) -> bytes:
    """Standard MIDI File (MIDI Association, 1.0), 1000 ticks a second; RPN 0 sets a range of 2 semitones."""
    events = [(0, bytes([0xB0, control, value])) for control, value in ((101, 0), (100, 0), (6, 2), (38, 0))]
    for program, key, bend in wanted:
        value = 8192 + (math.floor((bend + 0.5) / 200 * 8192) if bend > 0 else math.floor(bend / 200 * 8192))
        events += [
            (0, bytes([0xC0, program])),
            (0, bytes([0xE0, value & 0x7F, value >> 7])),
            (0, bytes([0x90, key, 90])),
            (round(SECONDS * 1000), bytes([0x80, key, 0])),
            (round((APART - SECONDS) * 1000), bytes([0xB0, 1, 0])),
        ]
    track = b"".join(_quantity(delta) + message for delta, message in [(0, b"\xff\x51\x03\x0f\x42\x40"), *events])
    track += b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000) + b"MTrk" + struct.pack(">I", len(track)) + track


def _quantity(number: int) -> bytes:
    """A variable-length quantity."""
    groups = [number & 0x7F]
    while number := number >> 7:
        groups.append(0x80 | (number & 0x7F))
    return bytes(groups[::-1])


def sampled_at(sound: np.ndarray, times: np.ndarray) -> np.ndarray:
    """Values of a sound between its samples (times in samples), by a windowed sinc of 48 taps."""
    first = np.floor(times).astype(int) - 23
    taps = first[:, None] + np.arange(48)
    off = times[:, None] - taps
    window = np.cos(np.pi * off / 50) ** 2
    return np.asarray((sound[np.clip(taps, 0, len(sound) - 1)] * np.sinc(off) * window).sum(axis=1))


def made_bend(plain: np.ndarray, bent: np.ndarray, bend: float) -> tuple[float, float, float]:
    """Cents by which one sound is the other played faster, its delay in samples, the share of energy not explained.

    The delay between the bent note and the plain one in bent time is fitted at two places; a wrong ratio moves it.
    """
    ratio = 2 ** (bend / 1200)
    places = np.array([0.7, 1.7]) * RATE
    delays, left = [], []
    for place in places:
        times = place + np.arange(4096.0)
        want = bent[times.astype(int)]
        delay = 0.0
        for _ in range(6):
            have = sampled_at(plain, ratio * (times + delay))
            slope = (sampled_at(plain, ratio * (times + delay + 0.05)) - have) / 0.05
            gain = float(want @ have) / float(have @ have)
            delay += float((want - gain * have) @ slope) / (gain * float(slope @ slope))
        delays.append(delay)
        left.append(float(((want - gain * have) ** 2).sum() / (want**2).sum()))
    drift = (delays[1] - delays[0]) / (places[1] - places[0])
    return bend + 1200 * math.log2(1 + drift), delays[0], max(left)
