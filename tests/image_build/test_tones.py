"""What the full-system test reads out of a recording, tried on sounds whose truth is known."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest

from emulated.tones import RATE, cents, loud_part, recorded, seams, strongest

ROOTS = (116.54, 174.81, 233.08)


def sounding(seconds: float = 12.0, shift: float = 0.0) -> np.ndarray:
    at = np.arange(round(seconds * RATE)) / RATE
    factor = 2 ** (shift / 1200)
    return 0.1 * sum(np.sin(2 * np.pi * root * factor * at + k) for k, root in enumerate(ROOTS))


def test_tones_are_read_to_a_hundredth_of_a_cent() -> None:
    tones = sorted(tone.hertz for tone in strongest(sounding(), 3))
    assert [abs(cents(found, root)) < 0.01 for found, root in zip(tones, ROOTS, strict=True)] == [True] * 3


def test_a_drone_that_is_a_tenth_of_a_cent_off_is_seen() -> None:
    tones = sorted(tone.hertz for tone in strongest(sounding(shift=0.1), 3))
    assert cents(tones[0], ROOTS[0]) == pytest.approx(0.1, abs=0.01)


@pytest.mark.parametrize("lost", [1, 64, 512, 1024])
def test_missing_samples_are_found_where_they_are(lost: int) -> None:
    whole = sounding()
    torn = np.concatenate([whole[: 5 * RATE], whole[5 * RATE + lost :]])
    tones = strongest(whole, 3)
    assert seams(whole, tones) == []
    found = seams(torn, tones)
    if lost == 1:  # a single sample turns the highest of these by 0.03 rad: beneath the threshold, as it is under noise
        assert found == []
    else:
        assert found
        assert all(abs(place - 5.0) < 0.2 for place, _ in found)


def test_an_unfinished_recording_is_read(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    sound = (sounding(4.0) * 32767).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(np.repeat(sound, 2).tobytes())
    data = path.read_bytes()
    path.write_bytes(data[:40] + (0).to_bytes(4, "little") + data[44:])
    read = recorded(path)
    assert len(read) == 4 * RATE
    assert len(loud_part(read, settle=0.5)) == pytest.approx(3 * RATE, abs=200)
