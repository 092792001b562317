"""A take cut off anywhere gets its length back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from hardware.drivers.flac_file import FlacTake, read_flac
from hardware.drivers.flac_mend import crc_8, crc_16, mend, unfinished

BLOCK = 4096
"""Samples in a frame of libsndfile's FLAC encoder."""


@pytest.fixture
def sound() -> np.ndarray:
    values = np.random.default_rng(5).integers(-40_000, 40_000, 200 * BLOCK)
    return (values / 2**23).astype(np.float32)


@pytest.fixture
def cut(tmp_path: Path, sound: np.ndarray) -> Path:
    """What is on the disk of a take that is still being written."""
    take = FlacTake(tmp_path / "whole.flac", "whole.flac")
    take.write(sound)
    place = tmp_path / "cut.flac"
    place.write_bytes((tmp_path / "whole.flac").read_bytes())
    take.close()
    return place


def test_check_values_are_those_of_the_crc_catalogue() -> None:
    """CRC-8/SMBUS and CRC-16/UMTS of "123456789" (G. Cook, Catalogue of parametrised CRC algorithms)."""
    assert crc_8(b"123456789") == 0xF4
    assert crc_16(b"123456789") == 0xFEE8


@pytest.mark.parametrize("lost", [0, 1, 2, 100, 5000, 9000, 100_000])
def test_all_whole_frames_are_kept(cut: Path, sound: np.ndarray, lost: int) -> None:
    data = cut.read_bytes()
    cut.write_bytes(data[: len(data) - lost])
    assert unfinished(cut)
    frame_bytes = len(data) / 200
    samples = mend(cut)
    assert samples % BLOCK == 0
    assert samples >= len(sound) - BLOCK - (lost / frame_bytes + 1.1) * BLOCK
    assert not unfinished(cut)
    assert soundfile.info(cut).frames == samples
    assert np.array_equal(read_flac(cut, "cut", 0, 10**9), sound[:samples])
    assert mend(cut) == samples


def test_rubbish_at_the_end_is_cut_off(cut: Path, sound: np.ndarray) -> None:
    data = cut.read_bytes()
    cut.write_bytes(data[:-3000] + bytes(20_000) + b"\xff\xf8" * 40)
    samples = mend(cut)
    assert samples >= len(sound) - 4 * BLOCK
    assert np.array_equal(read_flac(cut, "cut", 0, 10**9), sound[:samples])


def test_frame_numbers_of_two_bytes_are_read(cut: Path) -> None:
    """From frame 128 on the number takes two bytes (RFC 9639, 9.1.5); the file has 200."""
    assert mend(cut) > 128 * BLOCK


def test_what_is_whole_or_no_flac_stays_as_it_is(tmp_path: Path, sound: np.ndarray) -> None:
    take = FlacTake(tmp_path / "whole.flac", "whole.flac")
    take.write(sound[:10_000])
    take.close()
    before = (tmp_path / "whole.flac").read_bytes()
    assert not unfinished(tmp_path / "whole.flac")
    assert mend(tmp_path / "whole.flac") == 10_000
    assert (tmp_path / "whole.flac").read_bytes() == before
    for rubbish in (b"", b"fLaC", b"RIFF" + bytes(60), b"fLaC" + bytes(60)):
        other = tmp_path / "other.flac"
        other.write_bytes(rubbish)
        assert mend(other) == 0
        assert other.read_bytes() == rubbish


def test_a_take_without_a_whole_frame_stays_as_it_is(cut: Path) -> None:
    cut.write_bytes(cut.read_bytes()[:3000])
    assert mend(cut) == 0
    assert len(cut.read_bytes()) == 3000
