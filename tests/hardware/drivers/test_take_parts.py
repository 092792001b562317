"""Parts in a row read like one file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError
from firmware.units import RATE
from hardware.drivers.flac_file import FlacTake
from hardware.drivers.take_parts import part_places, part_samples, read_parts

LENGTHS = (3000, 1, 4096, 500)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("parts")
    at = 0
    for part, length in enumerate(LENGTHS, start=1):
        values = np.arange(at, at + length) / 2**23
        name = "take-01.flac" if part == 1 else f"take-01-{part * 5}.flac"
        soundfile.write(place / name, values, RATE, "PCM_24")
        at += length
    (place / "take-01-99.flac").symlink_to(place / "take-01.flac")
    return place


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, sum(LENGTHS) + 10), st.integers(0, sum(LENGTHS) + 10))
def test_any_stretch_is_that_of_the_whole(folder: Path, first: int, count: int) -> None:
    places = part_places(folder / "take-01.flac")
    assert [place.name for place in places] == ["take-01.flac", "take-01-10.flac", "take-01-15.flac", "take-01-20.flac"]
    end = min(first + count, sum(LENGTHS))
    wanted = (np.arange(first, max(first, end)) / 2**23).astype(np.float32)
    assert np.array_equal(read_parts(places, "take", first, count), wanted)


def test_a_later_part_is_read_alone(folder: Path) -> None:
    places = part_places(folder / "take-01-10.flac")
    assert [part_samples(place) for place in places] == [1]


def test_no_sound_is_no_length_and_no_place_is_below_zero(tmp_path: Path) -> None:
    (tmp_path / "take-01.flac").write_bytes(b"")
    (tmp_path / "take-02.flac").write_bytes(b"no sound")
    assert part_samples(tmp_path / "take-01.flac") == 0
    assert part_samples(tmp_path / "take-02.flac") == 0
    assert part_samples(tmp_path / "take-03.flac") == 0
    assert part_places(tmp_path / "away" / "take-01.flac") == (tmp_path / "away" / "take-01.flac",)
    with pytest.raises(BadFileError):
        read_parts((tmp_path / "take-01.flac",), "take", -1, 1)


def test_a_file_whose_power_went_before_its_first_frame_has_no_sound(tmp_path: Path) -> None:
    place = tmp_path / "take-01.flac"
    take = FlacTake(place, "take")
    take.write(np.zeros(100, dtype=np.float32))
    head = place.read_bytes()
    take.close()
    place.write_bytes(head)
    assert part_samples(place) == 0
    assert len(read_parts((place,), "take", 0, 99)) == 0
    (tmp_path / "take-02.flac").write_bytes(b"no sound")
    with pytest.raises(BadFileError):
        read_parts((tmp_path / "take-02.flac",), "take", 0, 99)
