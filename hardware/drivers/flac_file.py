"""One take as a 24-bit FLAC file (RFC 9639) through libsndfile, safe against a power cut up to its last sync."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np
import soundfile
from numpy.typing import NDArray

from firmware.errors import BadFileError, DeviceError
from firmware.units import RATE, Samples
from hardware.drivers.flac_mend import mend
from hardware.drivers.stick_errors import OTHER, explained, stick_error

FULL_SCALE: Final = 2**23
"""One step of 24 bits is 1 / FULL_SCALE."""

Fsync = Callable[[int], object]
"""Makes the file behind a descriptor safe against a power cut, as os.fsync does."""

NO_FOLLOW: Final = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)


def to_24_bit(samples: Samples) -> NDArray[np.int32]:
    """Samples as 24-bit integers in the upper bits of 32, as libsndfile wants them.

    Rounded to the nearest step (ties to even), clipped to ±(1 - 2**-23), not a number becomes 0. No dither: a step is
    at -138 dB of full scale, at least 20 dB under the noise of any microphone, preamplifier or 24-bit converter; and
    without dither a value that came from a 24-bit converter goes through unchanged, so that a take is exact.
    """
    steps = np.rint(np.nan_to_num(samples, nan=0.0, posinf=1.0, neginf=-1.0).astype(np.float64) * FULL_SCALE)
    clipped = np.clip(steps, 1 - FULL_SCALE, FULL_SCALE - 1)
    return clipped.astype(np.int32) << 8


class _Sink:
    """Unbuffered file that remembers what the operating system refused.

    libsndfile keeps no error number and soundfile prints what a callback raises, so nothing may be raised here.
    """

    def __init__(self, descriptor: int) -> None:
        self.descriptor = descriptor
        self.error: OSError | None = None

    def write(self, data: bytes) -> int:
        """Write all of it, or nothing once there was an error."""
        left = memoryview(data)
        try:
            while left and self.error is None:
                left = left[os.write(self.descriptor, left) :]
        except OSError as error:
            self.error = error
        return len(data) - len(left)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Move; libsndfile goes back once, at the end, to fill in the length."""
        return os.lseek(self.descriptor, offset, whence)

    def tell(self) -> int:
        """Place in the file."""
        return os.lseek(self.descriptor, 0, os.SEEK_CUR)

    def read(self, count: int = -1) -> bytes:
        """Bytes from here on; soundfile asks for this method, libsndfile never calls it while it writes."""
        return os.read(self.descriptor, count)


class FlacTake:
    """One take being written; keeps the TakeFile contract. Made by a stick.

    Parameters
    ----------
    place : Path
        A file that is not there yet, in a folder that is.
    name : str
        What errors call it.
    rate : int
        Samples per second.
    fsync : callable
        Makes a file descriptor's file safe.
    channels : int
        1 for the microphone, 2 for it and the box's own sound.
    """

    def __init__(self, place: Path, name: str, rate: int = RATE, fsync: Fsync = os.fsync, channels: int = 1) -> None:
        self.name = name
        self._channels = channels
        self._place = place
        self._fsync = fsync
        self.samples = 0
        try:
            descriptor = os.open(place, os.O_RDWR | os.O_CREAT | os.O_EXCL | NO_FOLLOW, 0o644)
        except FileExistsError as error:
            raise BadFileError(
                "take", name, "there is a file of this name already, and takes are never replaced"
            ) from error
        except OSError as error:
            raise explained(name, error) from error
        self._sink = _Sink(descriptor)
        self._closed = False
        try:
            self._file: Any = soundfile.SoundFile(self._sink, "w", rate, channels, "PCM_24", format="FLAC")
        except soundfile.LibsndfileError as error:
            os.close(descriptor)
            raise self._refusal(str(error)) from error

    @property
    def descriptor(self) -> int:
        """File descriptor, for a stick that wants to know how much is on it."""
        return self._sink.descriptor

    @property
    def closed(self) -> bool:
        """Whether it was finished."""
        return self._closed

    def write(self, samples: Samples) -> None:
        """Add samples, shape (n,) or (n, channels); raises DeviceError when the stick refuses."""
        self._check_open()
        try:
            self._file.write(to_24_bit(samples))
        except (soundfile.LibsndfileError, AssertionError) as error:  # soundfile asserts that all was written
            raise self._refusal(str(error)) from error
        if self._sink.error is not None:
            raise self._refusal("")
        self.samples += len(samples)

    def sync(self) -> None:
        """Make all but the last 4096 samples, which the encoder still holds, safe against a power cut."""
        self._check_open()
        try:
            self._fsync(self.descriptor)
        except OSError as error:
            raise explained(self.name, error) from error

    def close(self) -> int:
        """Finish the file, make it safe and say how many samples it holds; a second call only says so.

        A take without any sample gets a silent one: libsndfile writes no header before the first, and an empty file
        opens nowhere. A take that the stick refused to take to its end (full, say) is finished where it broke off.
        """
        if self._closed:
            return self.samples
        if self.samples == 0:
            with contextlib.suppress(DeviceError):  # what the stick says to this is told below
                self.write(np.zeros((1, self._channels), dtype=np.float32))
        self._closed = True
        try:
            self._file.close()
            if self._sink.error is None:
                self._fsync(self.descriptor)
        except soundfile.LibsndfileError as error:
            raise self._refusal(str(error)) from error
        except OSError as error:
            raise explained(self.name, error) from error
        finally:
            os.close(self.descriptor)
        if self._sink.error is not None:
            self._finish_broken()
        return self.samples

    def _finish_broken(self) -> None:
        try:
            self.samples = mend(self._place)
        except OSError as error:
            raise explained(self.name, error) from error
        if self.samples == 0:
            raise self._refusal("")

    def _check_open(self) -> None:
        if self._closed:
            raise stick_error(self.name, OTHER, "the take is closed")

    def _refusal(self, detail: str) -> DeviceError:
        return explained(self.name, self._sink.error) if self._sink.error else stick_error(self.name, OTHER, detail)


def read_flac(place: Path, name: str, first: int, count: int) -> Samples:
    """At most `count` samples from sample `first`, shape (n,), float32; fewer at the end, none after it.

    A file that a power cut left without an end must be mended first (see flac_mend): libsndfile can't tell its length.

    Raises
    ------
    BadFileError
        If it is no sound file.
    """
    if first < 0 or count < 0:
        raise BadFileError("place in take", (first, count), "both are 0 or more")
    try:
        if place.stat().st_size == 0:  # the power went before its first sample was safe
            return np.zeros(0, dtype=np.float32)
        with soundfile.SoundFile(place) as file:
            if first >= file.frames:
                return np.zeros(0, dtype=np.float32)
            file.seek(first)
            samples = file.read(min(count, file.frames - first), dtype="float32", always_2d=True)
    except (soundfile.LibsndfileError, OSError) as error:
        if not place.exists():
            raise stick_error(name, "stick-out", "no such take") from error
        raise BadFileError("take", name, f"a sound file that can be decoded ({error})") from error
    return np.ascontiguousarray(samples[:, 0])
