"""Writes what an engine plays to a sound file, as fast as the machine allows."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from firmware.errors import BadFileError, DeviceError
from firmware.sound.engine import Engine
from firmware.sound.snapshot import Sound
from firmware.units import RATE

BLOCK: Final = 4096
FORMATS: Final = {".wav": "WAV", ".flac": "FLAC"}


def write_engine(path: Path, engine: Engine, length: int, changes: tuple[tuple[int, Sound], ...] = ()) -> None:
    """Write the next samples of an engine as 24-bit sound, with nothing cut off or delayed.

    Parameters
    ----------
    path : Path
        The file; .wav or .flac.
    engine : Engine
        Plays on from where it stands; its own delay is taken off.
    length : int
        Samples to write.
    changes : tuple of (int, Sound)
        What it shall sound like from so many samples on, in order.

    Raises
    ------
    BadFileError
        If the name does not end in a format that is written.
    DeviceError
        If the file can't be written.
    """
    kind = FORMATS.get(path.suffix.lower())
    if kind is None:
        raise BadFileError("--out", str(path), "a name that ends in " + " or ".join(FORMATS))
    begin, skip, end = engine.position, engine.latency, length + engine.latency
    stops = [*(at for at, _ in changes), end]
    sounds = dict(changes)
    try:
        with soundfile.SoundFile(path, "w", RATE, 1, subtype="PCM_24", format=kind) as file:
            while (done := engine.position - begin) < end:
                engine.sound = sounds.get(done, engine.sound)
                stop = next(at for at in stops if at > done)
                block = engine.process(np.zeros(min(BLOCK, stop - done), dtype=np.float32))
                file.write(block[skip:])
                skip = max(0, skip - len(block))
    except (soundfile.LibsndfileError, OSError) as error:
        raise DeviceError("--out", str(path), "a file that can be written", str(error)) from error
