"""What an engine plays lands in the file sample for sample, from the first one on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.errors import BadFileError, DeviceError
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import RATE, Samples
from hardware.drivers.engine_file import write_engine

ON = Sound(drone=DroneSound(on=True, tones=(ToneSound(220.0),)))
HIGHER = Sound(drone=DroneSound(on=True, tones=(ToneSound(330.0),)))


def played(length: int, change_at: int) -> Samples:
    engine = Engine()
    engine.sound = ON
    first = engine.process(np.zeros(change_at, np.float32))
    engine.sound = HIGHER
    rest = engine.process(np.zeros(length + engine.latency - change_at, np.float32))
    return np.concatenate([first, rest])[engine.latency :]


@pytest.mark.parametrize("name", ["a.wav", "a.FLAC"])
def test_the_file_is_what_was_played(tmp_path: Path, name: str) -> None:
    engine = Engine()
    engine.sound = ON
    write_engine(tmp_path / name, engine, RATE, ((5000, HIGHER),))
    sound, rate = soundfile.read(tmp_path / name, dtype="float32")
    assert (rate, len(sound)) == (RATE, RATE)
    np.testing.assert_allclose(sound, played(RATE, 5000), atol=2.0**-22)


def test_a_change_within_the_engines_own_delay_cuts_nothing_off(tmp_path: Path) -> None:
    engine = Engine()
    engine.sound = ON
    write_engine(tmp_path / "a.wav", engine, 20_000, ((10, HIGHER),))
    sound = soundfile.read(tmp_path / "a.wav", dtype="float32")[0]
    np.testing.assert_allclose(sound, played(20_000, 10), atol=2.0**-22)


def test_a_change_at_once_and_an_empty_file(tmp_path: Path) -> None:
    write_engine(tmp_path / "a.wav", Engine(), 4096, ((0, ON),))
    assert np.abs(soundfile.read(tmp_path / "a.wav")[0]).max() > 0
    write_engine(tmp_path / "b.wav", Engine(), 0)
    assert soundfile.info(tmp_path / "b.wav").frames == 0


def test_names_and_places_that_cant_be_written(tmp_path: Path) -> None:
    with pytest.raises(BadFileError, match="a name that ends in"):
        write_engine(tmp_path / "a.mp3", Engine(), 10)
    with pytest.raises(DeviceError, match="can be written"):
        write_engine(tmp_path / "none" / "a.wav", Engine(), 10)
