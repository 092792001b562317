"""Recordings of every kind are read, and what is none is refused in plain words."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError
from hardware.drivers.sound_file import SoundFile, read_sound

RATE = 48_000


def sine(rate: int, seconds: float = 0.5, hz: float = 440.0) -> np.ndarray:
    return (0.5 * np.sin(2 * np.pi * hz * np.arange(int(rate * seconds)) / rate)).astype(np.float32)


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "PCM_U8"])
@pytest.mark.parametrize("channels", [1, 2])
def test_every_width_and_channel_count_is_read(tmp_path: Path, subtype: str, channels: int):
    path = tmp_path / "take.wav"
    sound = sine(RATE)
    soundfile.write(path, np.repeat(sound[:, None], channels, axis=1), RATE, subtype=subtype)
    read = read_sound(path)
    assert read.dtype == np.float32
    assert read.shape == sound.shape
    assert np.abs(read - sound).max() < (0.01 if subtype == "PCM_U8" else 1e-4)


def test_stereo_is_mixed_down_by_its_mean(tmp_path: Path):
    path = tmp_path / "two.flac"
    soundfile.write(path, np.stack([sine(RATE), np.zeros(RATE // 2, np.float32)], axis=1), RATE, subtype="PCM_24")
    assert np.abs(read_sound(path) - sine(RATE) / 2).max() < 1e-6


@pytest.mark.parametrize("rate", [8_000, 22_050, 44_100, 96_000])
def test_other_rates_are_resampled(tmp_path: Path, rate: int):
    path = tmp_path / "rate.wav"
    soundfile.write(path, sine(rate), rate, subtype="FLOAT")
    read = read_sound(path)
    assert abs(len(read) - RATE // 2) <= 1
    middle = slice(2_000, 22_000)
    assert np.abs(read[middle] - sine(RATE)[middle]).max() < 1e-3


def test_blocks_join_to_the_whole_and_are_all_full_but_the_last(tmp_path: Path):
    path = tmp_path / "blocks.wav"
    soundfile.write(path, sine(44_100, 1.3), 44_100, subtype="FLOAT")
    whole = read_sound(path)
    with SoundFile(path) as file:
        blocks = list(file.blocks(512))
    assert all(len(block) == 512 for block in blocks[:-1])
    assert 0 < len(blocks[-1]) <= 512
    assert np.array_equal(np.concatenate(blocks), whole)


def test_a_long_file_is_not_loaded_whole(tmp_path: Path):
    path = tmp_path / "long.wav"
    soundfile.write(path, np.zeros(RATE * 60, np.float32), RATE, subtype="PCM_16")
    with SoundFile(path) as file:
        next(file.blocks(512))
        assert file._file.tell() < RATE
        assert file.seconds == 60


def test_samples_that_are_no_numbers_become_silence_and_are_counted(tmp_path: Path):
    path = tmp_path / "nan.wav"
    sound = sine(RATE)
    sound[100:110] = np.nan
    sound[200] = np.inf
    soundfile.write(path, sound, RATE, subtype="FLOAT")
    with SoundFile(path) as file:
        read = file.read()
        assert file.bad_samples == 11
    assert np.isfinite(read).all()
    assert not read[100:110].any()


@pytest.mark.parametrize("kind", ["wav", "flac"])
def test_a_file_that_is_cut_short_gives_what_is_there(tmp_path: Path, kind: str):
    path = tmp_path / f"cut.{kind}"
    soundfile.write(path, sine(RATE, 2.0), RATE, subtype="PCM_16")
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    read = read_sound(path)
    assert 0.5 * RATE < len(read) < 1.1 * RATE
    count = min(len(read), RATE // 2)
    assert np.abs(read[:count] - sine(RATE, 2.0)[:count]).max() < 1e-4


BAD = {
    "no such file": (None, "no such file"),
    "empty": (b"", "could not be opened"),
    "text": (b"tonic = 'Bb'\n" * 40, "could not be opened"),
    "half a header": (b"RIFF\x24\x00\x00\x00WAVEfmt ", "could not be opened"),
    "a header only": ("header", "0 samples"),
}


@pytest.mark.parametrize("kind", BAD)
def test_what_is_no_recording_is_refused_by_name(tmp_path: Path, kind: str):
    data, words = BAD[kind]
    path = tmp_path / "bad.wav"
    if data == "header":
        soundfile.write(path, np.zeros(0, np.float32), RATE)
    elif data is not None:
        path.write_bytes(data)
    with pytest.raises(BadFileError, match=words) as caught:
        SoundFile(path)
    assert "bad.wav" in str(caught.value)


def test_a_folder_is_refused(tmp_path: Path):
    with pytest.raises(BadFileError, match="folder"):
        SoundFile(tmp_path)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=300), st.sampled_from(["", "RIFF", "fLaC", "RIFF\x10\x00\x00\x00WAVE", "OggS", "FORM"]))
def test_any_bytes_are_read_or_refused(tmp_path: Path, data: bytes, start: str):
    path = tmp_path / "any.wav"
    path.write_bytes(start.encode() + data)
    try:
        read = read_sound(path)
    except BadFileError:
        return
    assert np.isfinite(read).all()


def test_one_channel_can_be_read_alone(tmp_path: Path):
    both = np.stack([np.full(100, 0.25), np.full(100, -0.5)], axis=1)
    soundfile.write(tmp_path / "a.wav", both, RATE, "PCM_24")
    for channel, value in ((0, 0.25), (1, -0.5), (None, -0.125)):
        with SoundFile(tmp_path / "a.wav", channel=channel) as file:
            assert file.channels == 2
            assert np.allclose(file.read(), value)
