"""Reads recordings of any rate, width and channel count as mono float32 blocks at the box's rate."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from firmware.errors import BadFileError
from firmware.units import BLOCK, RATE, Samples

ALLOWED: Final = "WAV, FLAC or another format that libsndfile reads, with at least one sample"
CHUNK: Final = 16_384
"""Frames read from the file at a time."""

SLOWEST: Final = 1_000
FASTEST: Final = 768_000


class SoundFile:
    """A recording, opened for reading from its beginning.

    Parameters
    ----------
    path : Path or str
        The file.
    rate : int
        Samples per second that `blocks` delivers; other rates are resampled by soxr (very high quality).
    channel : int or None
        Only this channel, from 0, is read.

    Raises
    ------
    BadFileError
        If there is no such file, it is a folder, not audio, or empty. A file that is cut short gives what is readable.

    Notes
    -----
    Without `channel` the channels are mixed down by their mean. Samples that are not finite become 0 and are counted in
    `bad_samples`.
    """

    def __init__(self, path: Path | str, rate: int = RATE, channel: int | None = None) -> None:
        self.path = Path(path)
        self.rate = rate
        self._channel = channel
        self.bad_samples = 0
        self.cut_short = False
        self._file = _opened(self.path)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; a second call does nothing."""
        self._file.close()

    @property
    def channels(self) -> int:
        """Channels in the file."""
        return int(self._file.channels)

    @property
    def seconds(self) -> float:
        """Length that the file's header promises."""
        return float(self._file.frames / self._file.samplerate)

    def blocks(self, size: int = BLOCK) -> Iterator[Samples]:
        """Yield blocks of `size` samples, the last one shorter; the file is never loaded whole."""
        waiting: list[Samples] = []
        held = 0
        for part in self._at_rate():
            waiting.append(part)
            held += len(part)
            if held < size:
                continue
            joined = np.concatenate(waiting)
            whole = held // size * size
            yield from (joined[start : start + size] for start in range(0, whole, size))
            waiting = [joined[whole:]]
            held -= whole
        if held:
            yield np.concatenate(waiting)

    def read(self) -> Samples:
        """All samples, shape (n,)."""
        parts = list(self.blocks(CHUNK))
        return np.concatenate(parts) if parts else np.zeros(0, np.float32)

    def _at_rate(self) -> Iterator[Samples]:
        if self._file.samplerate == self.rate:
            yield from self._mono()
            return
        resampler = soxr.ResampleStream(self._file.samplerate, self.rate, 1, dtype="float32", quality="VHQ")
        for part in self._mono():
            yield np.asarray(resampler.resample_chunk(part), dtype=np.float32)
        yield np.asarray(resampler.resample_chunk(np.zeros(0, np.float32), last=True), dtype=np.float32)

    def _mono(self) -> Iterator[Samples]:
        while len(frames := self._frames()):
            mixed = frames.mean(axis=1, dtype=np.float32) if self._channel is None else frames[:, self._channel].copy()
            good = np.isfinite(mixed)
            if not good.all():
                self.bad_samples += int((~good).sum())
                mixed = np.where(good, mixed, np.float32(0))
            yield mixed

    def _frames(self) -> NDArray[np.float32]:
        """Return the next frames, shape (n, channels); none at the end or where the file is broken."""
        try:
            frames: NDArray[np.float32] = self._file.read(CHUNK, dtype="float32", always_2d=True)
        except soundfile.LibsndfileError:
            self.cut_short = True
            return np.zeros((0, 1), np.float32)
        return frames


def _opened(path: Path) -> soundfile.SoundFile:
    if path.is_dir():
        raise BadFileError("sound file", str(path), ALLOWED, "This is a folder; name a file in it.")
    if not path.exists():
        raise BadFileError("sound file", str(path), ALLOWED, "There is no such file.")
    try:
        file = soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, OSError, TypeError, ValueError) as error:
        raise BadFileError("sound file", str(path), ALLOWED, f"It could not be opened: {error}") from error
    if file.frames == 0 or not SLOWEST <= file.samplerate <= FASTEST:
        frames, rate = file.frames, file.samplerate
        file.close()
        raise BadFileError("sound file", str(path), ALLOWED, f"It holds {frames} samples at {rate} Hz.")
    return file


def read_sound(path: Path | str, rate: int = RATE) -> Samples:
    """Read a short recording whole: mono float32 at `rate`, shape (n,); raises BadFileError like `SoundFile`."""
    with SoundFile(path, rate) as file:
        return file.read()
