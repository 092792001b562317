"""A take cut off anywhere gets its length back."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hardware.drivers.flac_file import FlacTake, read_flac
from hardware.drivers.flac_mend import OVERLAP, WINDOW, crc_8, crc_16, cut_off, mend, unfinished

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


def finished(place: Path, sound: np.ndarray) -> bytes:
    take = FlacTake(place, place.name)
    take.write(sound)
    take.close()
    return place.read_bytes()


ANY = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@ANY
@given(st.integers(1, 3 * BLOCK), st.sampled_from(["noise", "silence", "silence at the end", "full scale"]))
def test_a_finished_take_of_any_length_and_sound_stays_as_it_is(tmp_path: Path, length: int, kind: str) -> None:
    values = np.random.default_rng(length).uniform(-0.5, 0.5, length).astype(np.float32)
    values[{"noise": length, "silence": 0, "silence at the end": length // 3, "full scale": length}[kind] :] = 0
    if kind == "full scale":
        values[:] = np.sign(values)
    place = tmp_path / f"{length} {kind}.flac"
    place.unlink(missing_ok=True)
    before = finished(place, values)
    assert not cut_off(place)
    assert mend(place) == length
    assert place.read_bytes() == before


@pytest.mark.parametrize("lost", [1, 5000, 300_000])
def test_a_finished_take_that_lost_its_end_gets_the_length_that_it_has(
    tmp_path: Path, sound: np.ndarray, lost: int
) -> None:
    place = tmp_path / "whole.flac"
    data = finished(place, sound[:-1000])
    place.write_bytes(data[:-lost])
    assert cut_off(place)
    samples = mend(place)
    assert 0 < samples < len(sound) - 1000
    assert not cut_off(place)
    assert soundfile.info(place).frames == samples
    assert np.array_equal(read_flac(place, "whole", 0, 10**9), sound[:samples])


def test_a_short_last_frame_counts_with_its_own_size(tmp_path: Path, sound: np.ndarray) -> None:
    """The power may go after the last frame was written, and before the length was."""
    place = tmp_path / "whole.flac"
    data = bytearray(finished(place, sound[: 5 * BLOCK + 1000]))
    data[21:26] = bytes([data[21] & 0xF0, 0, 0, 0, 0])
    place.write_bytes(data)
    assert mend(place) == 5 * BLOCK + 1000


def test_an_end_of_megabytes_that_never_reached_the_stick_is_cut_off(cut: Path, sound: np.ndarray) -> None:
    """A file system may give a file its length before it has its bytes; they read as zeros."""
    data = cut.read_bytes()
    cut.write_bytes(data + bytes(3 * WINDOW - OVERLAP // 2))
    samples = mend(cut)
    assert samples >= len(sound) - BLOCK
    assert np.array_equal(read_flac(cut, "cut", 0, 10**9), sound[:samples])


def test_a_link_and_a_folder_are_no_takes(cut: Path, tmp_path: Path) -> None:
    before = cut.read_bytes()
    (tmp_path / "link.flac").symlink_to(cut)
    (tmp_path / "folder.flac").mkdir()
    os.mkfifo(tmp_path / "pipe.flac")
    for name in ("link.flac", "folder.flac", "pipe.flac"):
        with pytest.raises(OSError):
            mend(tmp_path / name)
        with pytest.raises(OSError):
            unfinished(tmp_path / name)
    assert cut.read_bytes() == before


@ANY
@given(st.data())
def test_any_damage_is_mended_or_left_but_nothing_is_made_up(
    tmp_path: Path, sound: np.ndarray, data: st.DataObject
) -> None:
    """Bytes changed, cut off and added anywhere: what opens afterwards has the length that it says."""
    place = tmp_path / "damaged.flac"
    place.unlink(missing_ok=True)
    held = bytearray(finished(place, sound[: 6 * BLOCK + 10]))
    for _ in range(data.draw(st.integers(1, 4))):
        held[data.draw(st.integers(0, len(held) - 1))] = data.draw(st.integers(0, 255))
    place.write_bytes(bytes(held[: data.draw(st.integers(0, len(held)))]) + data.draw(st.binary(max_size=50)))
    try:
        samples = mend(place)
    except OSError:
        return
    if samples and cut_off(place):
        pytest.fail("mended, and still cut off")
