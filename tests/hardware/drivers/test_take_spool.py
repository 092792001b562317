"""Sound on the box's card: exact, playable by any program, whole after a power cut."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.units import RATE
from hardware.drivers.take_spool import LEFT_FREE, Spool, Where

WHERE = Where("rehearsals/0001 2026-11-25/take-01.flac", 1, 1, 48_000, 2, 24_000, 77)


def steps(shape: tuple[int, ...] | int) -> np.ndarray:
    values = np.random.default_rng(3).integers(1 - 2**23, 2**23, shape)
    return (values / 2**23).astype(np.float32)


@pytest.mark.parametrize("channels", [1, 2])
def test_sound_comes_back_sample_for_sample_from_any_place(tmp_path: Path, channels: int) -> None:
    sound = steps(5000 if channels == 1 else (5000, 2))
    file = Spool(tmp_path / "new" / "spool").begin(Where("a/take-01.flac", 1, channels, 0, 0, 0))
    file.write(sound[:1234])
    file.write(sound[1234:])
    file.sync()
    assert file.samples == 5000
    assert np.array_equal(file.read(0, 10_000), sound)
    assert np.array_equal(file.read(1200, 100), sound[1200:1300])
    assert file.read(5000, 10).shape[0] == 0
    file.close()
    file.close()


@pytest.mark.parametrize("channels", [1, 2])
def test_libsndfile_reads_it_although_its_length_is_not_in_its_header(tmp_path: Path, channels: int) -> None:
    """The Sun/NeXT format lets a data size of ~0 stand for "not known" (NeXT's SNDSoundStruct)."""
    sound = steps(3000 if channels == 1 else (3000, 2))
    file = Spool(tmp_path).begin(Where("a/take-01.flac", 1, channels, 0, 0, 0))
    file.write(sound)
    read, rate = soundfile.read(file.place, dtype="float32")
    assert rate == RATE
    assert soundfile.info(file.place).subtype == "PCM_24"
    assert np.array_equal(read, sound)
    file.close()


def test_what_a_power_cut_left_is_found_with_its_place(tmp_path: Path) -> None:
    first = Spool(tmp_path).begin(WHERE)
    first.write(steps(1000))
    first.close()
    first.place.write_bytes(first.place.read_bytes()[:-2])
    second = Spool(tmp_path).begin(WHERE)
    second.close()
    (tmp_path / "000007.au").write_bytes(b"no sound file")
    (tmp_path / "000008.au").write_bytes(first.place.read_bytes()[:40])
    (tmp_path / "000009.au").symlink_to(first.place)
    (tmp_path / "notes.txt").write_text("kept")
    found = Spool(tmp_path).kept()
    assert [(file.where, file.samples) for file in found] == [(WHERE, 999), (WHERE, 0)]
    assert np.array_equal(found[0].read(0, 2000), steps(1000)[:999])
    found[0].write(steps(5))
    assert np.array_equal(found[0].read(999, 9), steps(5)), "it goes on after the last whole sample"
    for file in found:
        file.remove()
    assert sorted(one.name for one in tmp_path.iterdir()) == ["000007.au", "000008.au", "000009.au", "notes.txt"]


def test_a_new_file_never_takes_the_place_of_an_old_one(tmp_path: Path) -> None:
    places = []
    for _ in range(3):
        file = Spool(tmp_path).begin(WHERE)
        places.append(file.place.name)
        file.close()
    assert places == ["000001.au", "000002.au", "000003.au"]


def test_room_is_bounded_by_the_limit_and_by_what_the_card_has_left(tmp_path: Path) -> None:
    assert Spool(tmp_path, limit=1000, free=lambda _: 10**12).room() == 1000
    assert Spool(tmp_path, free=lambda _: LEFT_FREE + 500).room() == 500
    assert Spool(tmp_path, free=lambda _: 5).room() == 0
    file = Spool(tmp_path).begin(WHERE)
    file.write(steps(100))
    file.close()
    size = file.place.stat().st_size
    assert Spool(tmp_path, limit=1000, free=lambda _: 10**12).room() == 1000 - size


def test_a_card_that_can_not_be_used_has_no_room_and_nothing_kept(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    spool = Spool(tmp_path / "file" / "spool")
    assert spool.room() == 0
    assert spool.kept() == ()
    with pytest.raises(OSError, match="file"):
        spool.begin(WHERE)


def test_a_card_that_fails_at_the_start_leaves_no_descriptor(tmp_path: Path) -> None:
    def refuse(_descriptor: int) -> None:
        raise OSError(5, "Input/output error")

    before = len(list(Path("/proc/self/fd").iterdir()))
    with pytest.raises(OSError, match="Input"):
        Spool(tmp_path, fsync=refuse).begin(WHERE)
    assert len(list(Path("/proc/self/fd").iterdir())) == before
