"""A recording in place of the microphone: a sampled trumpet is named in the box's key and its cents are true."""

import csv
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

from hardware.desk import main

# Outside source: FluidSynth with the FluidR3 GM soundfont of Debian (packages fluidsynth and fluid-soundfont-gm).
SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")

SCRIPT = """
title = "A recording"
seconds = 4
[settings]
tonic = "Bb"
[[cue]]
at = 0.1
tap = "Ear"
"""


def trumpet(bend_cents: int) -> bytes:
    """Make a Standard MIDI File (MIDI Association, 1.0): half a second of rest, then D4 for 3 s, bent."""
    bend = 8192 + round(bend_cents / 200 * 8192) + 1  # a range of 200 cents; FluidSynth drops fractions of a cent
    events = b"\x00\xff\x51\x03\x07\xa1\x20"  # 500 000 microseconds a beat
    events += b"\x00\xc0\x38"  # program 57 of General MIDI, trumpet
    events += b"\x00\xe0" + bytes([bend & 127, bend >> 7])
    events += b"\x60\x90\x3e\x64" + b"\x84\x40\x80\x3e\x00"  # after 96 ticks on, after 576 off
    events += b"\x60\xff\x2f\x00"
    track = b"MTrk" + len(events).to_bytes(4, "big") + events
    return b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60" + track


def pitch_of(sound: np.ndarray, rate: int, near: float) -> float:
    """Weighted pitch of the first five partials by padded FFT peaks; Hz of the fundamental."""
    size = 1 << 20
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), size))
    found, weights = [], []
    for partial in range(1, 6):
        low, high = (round(partial * near * ratio * size / rate) for ratio in (0.975, 1.025))
        top = low + int(spectrum[low:high].argmax())
        found.append(top * rate / size / partial)
        weights.append(spectrum[top] * partial)
    return float(np.average(found, weights=weights))


@pytest.mark.soundfont
@pytest.mark.skipif(not SOUNDFONT.exists() or shutil.which("fluidsynth") is None, reason="needs FluidSynth and FluidR3")
@pytest.mark.parametrize("bend", [-12, 9])
def test_a_sampled_trumpet_is_the_microphone(tmp_path: Path, bend: int):
    (tmp_path / "d4.mid").write_bytes(trumpet(bend))
    (tmp_path / "script.toml").write_text(SCRIPT, encoding="utf-8")
    wav, out = tmp_path / "d4.wav", tmp_path / "out"
    command = ["fluidsynth", "-ni", "-q", "-g", "0.6", "-r", "44100", "-F", wav, SOUNDFONT, tmp_path / "d4.mid"]
    subprocess.run(command, check=True, capture_output=True, timeout=60)
    assert main(["rehearse", str(tmp_path / "script.toml"), "--mic", str(wav), "--out", str(out), "--quiet"]) == 0

    sound, rate = soundfile.read(wav)
    equal = 440 * 2 ** (-7 / 12)
    hz = pitch_of(sound.mean(axis=1)[rate : 3 * rate], rate, equal)
    assert 1200 * np.log2(hz / equal) == pytest.approx(bend, abs=6.0)  # the samples are a little off themselves
    just = 440 * 2 ** (-11 / 12) * 5 / 4
    with (out / "KEELNOTE/rehearsals/0001/notes.csv").open(encoding="utf-8", newline="") as file:
        (note,) = csv.DictReader(file)
    assert (note["key"], note["degree"], note["concert"]) == ("Bb major", "3", "D4")
    assert float(note["start_s"]) == pytest.approx(0.5, abs=0.15)
    assert float(note["median_cents"]) == pytest.approx(1200 * np.log2(hz / just), abs=1.0)
