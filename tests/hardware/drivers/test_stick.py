"""The folder stick: what only the real driver can show."""

from __future__ import annotations

import errno
import os
import resource
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from firmware.errors import BadFileError, DeviceError
from hardware.drivers.flac_file import to_24_bit
from hardware.drivers.stick import MOST_TEXT, FolderStick
from hardware.drivers.stick_errors import explained


@pytest.fixture
def stick(tmp_path: Path) -> FolderStick:
    return FolderStick(tmp_path / "KEELNOTE")


def noise(count: int) -> np.ndarray:
    return np.random.default_rng(3).uniform(-1, 1, count).astype(np.float32)


@pytest.fixture
def short_files() -> Iterator[None]:
    """Files end at 100 kB: the operating system refuses more with EFBIG, as it does with ENOSPC on a full stick."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, before[1]))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.usefixtures("short_files")
def test_a_full_stick_refuses_and_keeps_what_was_before(stick: FolderStick) -> None:
    sound = noise(200_000)
    take = stick.open_take("take.flac")
    with pytest.raises(DeviceError) as refused:  # noqa: PT012 - which of the writes is refused is libsndfile's business
        for at in range(0, len(sound), 4096):
            take.write(sound[at : at + 4096])
    assert refused.value.message == "stick-full"
    with pytest.raises(DeviceError):
        take.write(sound[:10])
    samples = take.close()
    assert samples > 20_000
    steps = to_24_bit(sound[:samples]) / 2**31
    assert np.array_equal(stick.read_take("take.flac", 0, 10**9), steps.astype(np.float32))


@pytest.mark.usefixtures("short_files")
def test_a_text_that_does_not_fit_leaves_the_old_one(stick: FolderStick) -> None:
    stick.write_text("sheet.html", "old")
    with pytest.raises(DeviceError) as refused:
        stick.write_text("sheet.html", "x" * 200_000)
    assert refused.value.message == "stick-full"
    assert stick.read_text("sheet.html") == "old"
    assert stick.names("") == ("sheet.html",)


def test_a_take_that_was_cut_off_is_mended_when_it_is_read(stick: FolderStick) -> None:
    take = stick.open_take("a/take.flac")
    take.write(noise(100_000))
    take.sync()
    data = (stick.root / "a/take.flac").read_bytes()
    assert stick.mend() == (), "a take that is being written is left alone"
    take.close()
    (stick.root / "a/take.flac").write_bytes(data)
    (stick.root / "empty.flac").write_bytes(b"")
    assert stick.mend() == ("a/take.flac",)
    assert len(stick.read_take("a/take.flac", 0, 10**9)) == 24 * 4096
    assert len(stick.read_take("empty.flac", 0, 10)) == 0


def test_only_takes_of_the_stick_are_mended_and_links_lead_nowhere(stick: FolderStick, tmp_path: Path) -> None:
    take = stick.open_take("a/take.flac")
    take.write(noise(100_000))
    take.sync()
    data = (stick.root / "a/take.flac").read_bytes()
    take.close()
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "take.flac").write_bytes(data)
    (stick.root / "file.flac").symlink_to(outside / "take.flac")
    (stick.root / "folder").symlink_to(outside)
    (stick.root / "round").symlink_to(stick.root)
    os.mkfifo(stick.root / "pipe.flac")
    deep = stick.root / "1" / "2" / "3" / "4" / "5" / "6"
    deep.mkdir(parents=True)
    (deep / "take.flac").write_bytes(data)
    assert stick.mend() == ()
    assert (outside / "take.flac").read_bytes() == data
    with pytest.raises(DeviceError, match="no file"):
        stick.read_take("pipe.flac", 0, 1)


def test_an_endless_text_is_refused(stick: FolderStick) -> None:
    stick.write_text("settings.toml", "")
    with (stick.root / "settings.toml").open("wb") as file:
        file.truncate(MOST_TEXT + 1)
    with pytest.raises(BadFileError, match="64 MB"):
        stick.read_text("settings.toml")


def test_a_stick_must_be_mounted_when_that_is_asked_for(tmp_path: Path) -> None:
    unplugged = FolderStick(tmp_path / "KEELNOTE", mounted=True)
    assert not unplugged.present
    assert unplugged.mend() == ()
    with pytest.raises(DeviceError, match="no stick"):
        unplugged.write_text("x", "y")
    assert not (tmp_path / "KEELNOTE").exists()
    assert FolderStick(Path("/proc/KEELNOTE"), mounted=True).present


def test_a_pulled_stick_stays_mounted_but_its_device_is_gone(tmp_path: Path) -> None:
    place = tmp_path / "my stick"
    place.mkdir()
    escaped = str(place).replace(" ", "\\040")
    mounts = tmp_path / "mounts"
    stick = FolderStick(place / "KEELNOTE", mounted=True, mounts=mounts)
    assert not stick.present, "no table of mounts, no stick"
    mounts.write_text("proc /proc proc rw 0 0\n")
    assert not stick.present
    mounts.write_text(f"/dev/null {escaped} vfat rw 0 0\n")
    assert stick.present
    assert stick.free_bytes() > 0
    mounts.write_text(f"/dev/null {escaped} vfat rw 0 0\n/dev/no-such-stick {escaped} vfat rw 0 0\n")
    assert not stick.present
    assert stick.free_bytes() == 0


def test_texts_and_new_names_are_made_safe(tmp_path: Path) -> None:
    """The file before it takes the name, then once more, then the folder: else a power cut leaves an empty file.

    Once more because of FAT: with the folder alone synced a renamed file had no length (Linux 6.1, seen in a guest).
    """
    synced: list[str] = []

    def fsync(descriptor: int) -> None:
        synced.append(str(Path(f"/proc/self/fd/{descriptor}").readlink()).removeprefix(str(tmp_path)))
        os.fsync(descriptor)

    stick = FolderStick(tmp_path / "K", fsync=fsync)
    stick.write_text("a", "text")
    assert synced == ["/K/a.new", "/K/a", "/K"]
    synced.clear()
    stick.append_line("log", "1")
    stick.append_line("log", "2")
    assert synced == ["/K/log", "/K", "/K/log"]
    synced.clear()
    take = stick.open_take("take.flac")
    take.write(noise(10))
    take.sync()
    take.close()
    assert synced == ["/K", "/K/take.flac", "/K/take.flac"]


def test_a_disk_that_fails_to_sync_is_not_called_safe(tmp_path: Path) -> None:
    """A pulled stick answers EIO to fsync."""
    broken = False

    def fsync(_descriptor: int) -> None:
        if broken:
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    stick = FolderStick(tmp_path / "K", fsync=fsync)
    stick.write_text("a", "old")
    take = stick.open_take("take.flac")
    take.write(noise(10))
    broken = True
    for use in (take.sync, lambda: stick.write_text("a", "new"), lambda: stick.append_line("b", "x"), take.close):
        with pytest.raises(DeviceError) as refused:
            use()
        assert refused.value.message == "stick-out"
    assert stick.read_text("a") == "old"


def test_a_folder_in_the_way_is_an_error_in_words(stick: FolderStick) -> None:
    stick.write_text("a/b", "")
    for use in (
        lambda: stick.write_text("a", "x"),
        lambda: stick.append_line("a", "x"),
        lambda: stick.write_text("a/b/c", "x"),
    ):
        with pytest.raises(DeviceError) as refused:
            use()
        assert refused.value.message == "stick-odd"
    with pytest.raises((DeviceError, BadFileError)):
        stick.open_take("a")
    with pytest.raises(DeviceError, match="no file"):
        stick.read_take("a", 0, 1)
    assert stick.read_text("a") is None


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (errno.EIO, "stick-out"),
        (errno.ENODEV, "stick-out"),
        (errno.ENOSPC, "stick-full"),
        (errno.EFBIG, "stick-full"),
        (errno.EROFS, "stick-read-only"),
        (errno.EACCES, "stick-read-only"),
        (errno.EISDIR, "stick-odd"),
        (errno.ENOTDIR, "stick-odd"),
        (errno.ELOOP, "stick-odd"),
        (errno.EMFILE, "stick-error"),
    ],
)
def test_what_the_system_says_is_put_in_words(number: int, message: str) -> None:
    error = explained("take-01.flac", OSError(number, os.strerror(number)))
    assert error.message == message
    assert "take-01.flac" in error.text
    assert error.remedy


def test_24_bits_round_to_the_nearest_step_and_ties_to_even() -> None:
    steps = np.array([0.5, 1.5, 2.5, -0.5, -1.5, 0.4999, 8388606.5], dtype=np.float64) / 2**23
    assert (to_24_bit(steps.astype(np.float32)) >> 8).tolist()[:6] == [0, 2, 2, 0, -2, 0]
    every = np.arange(1 - 2**23, 2**23, 997, dtype=np.int64)
    assert np.array_equal(to_24_bit((every / 2**23).astype(np.float32)) >> 8, every)
