"""Sound that waits on the box's card, and takes of two channels, decoded by programs that are not ours.

Sources: the Sun/NeXT audio format and FLAC (RFC 9639) as FFmpeg and SoX read them, both from Debian.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardware.drivers.stick import FolderStick
from hardware.drivers.take_spool import Spool, Where
from tests.outside.test_takes_decoders import DECODERS, decoded, steps


@pytest.mark.parametrize("program", ["ffmpeg", "sox"])
@pytest.mark.parametrize("channels", [1, 2])
def test_a_spool_file_that_the_power_cut_off_plays_to_its_last_whole_sample(
    tmp_path: Path, program: str, channels: int
) -> None:
    values = steps(20_000).reshape(-1, channels)
    file = Spool(tmp_path).begin(Where("rehearsals/0001/take-01.flac", 1, channels, 0, 1, 0))
    file.write((values / 2**23).astype(np.float32).reshape((-1, 2) if channels == 2 else -1))
    file.close()
    file.place.write_bytes(file.place.read_bytes()[:-1])
    samples = decoded(program, file.place)
    whole = values[:-1].reshape(-1)
    assert np.array_equal(samples[: len(whole)], whole)
    assert len(samples) - len(whole) < channels + 1


@pytest.mark.parametrize("program", DECODERS)
def test_a_take_of_two_channels_decodes_to_exactly_its_samples(tmp_path: Path, program: str) -> None:
    stick = FolderStick(tmp_path / "KEELNOTE")
    values = steps(40_000).reshape(-1, 2)
    take = stick.open_take("take-01.flac", 2)
    take.write((values / 2**23).astype(np.float32))
    assert take.close() == 20_000
    assert np.array_equal(decoded(program, stick.root / "take-01.flac"), values.reshape(-1))
