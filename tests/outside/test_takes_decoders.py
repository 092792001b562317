"""Finished takes, and takes cut off in the middle, decoded by programs that are not ours.

Sources: FLAC is RFC 9639; the decoders are Xiph's reference program `flac` (which also checks the MD5 of the samples
and every frame's check value), FFmpeg and SoX, all from Debian.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.units import RATE
from hardware.drivers.stick import FolderStick

DECODERS = {
    "flac": [
        "flac",
        "--decode",
        "--silent",
        "--stdout",
        "--force-raw-format",
        "--endian=little",
        "--sign=signed",
        "{}",
    ],
    "ffmpeg": ["ffmpeg", "-v", "error", "-i", "{}", "-f", "s24le", "-c:a", "pcm_s24le", "-"],
    "sox": ["sox", "-V1", "{}", "-t", "raw", "-e", "signed", "-b", "24", "-L", "-"],
}


def decoded(program: str, place: Path) -> np.ndarray:
    """Samples as 24-bit integers, by another program; the test is left out where it is not installed."""
    if shutil.which(program) is None:
        pytest.skip(f"{program} is not installed; Debian's package of that name has it")
    command = [part.format(place) for part in DECODERS[program]]
    raw = subprocess.run(command, capture_output=True, check=True, timeout=60).stdout
    triples = np.frombuffer(raw[: len(raw) // 3 * 3], dtype=np.uint8).reshape(-1, 3).astype(np.int32)
    return (triples[:, 0] << 8 | triples[:, 1] << 16 | triples[:, 2] << 24) >> 8


def steps(count: int) -> np.ndarray:
    """24-bit values: noise, both ends of the range, and silence."""
    values = np.random.default_rng(11).integers(1 - 2**23, 2**23, count)
    values[:2] = (2**23 - 1, 1 - 2**23)
    values[count // 2 : count // 2 + 9000] = 0
    return values


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, np.ndarray]:
    stick = FolderStick(tmp_path_factory.mktemp("stick") / "KEELNOTE")
    values = steps(3 * RATE + 77)
    file = stick.open_take("take.flac")
    for at in range(0, len(values), 500):
        file.write((values[at : at + 500] / 2**23).astype(np.float32))
    file.close()
    return stick.root / "take.flac", values


@pytest.mark.parametrize("program", DECODERS)
def test_a_finished_take_decodes_to_exactly_its_samples(take: tuple[Path, np.ndarray], program: str) -> None:
    assert np.array_equal(decoded(program, take[0]), take[1])


def test_the_reference_program_finds_no_fault(take: tuple[Path, np.ndarray]) -> None:
    if shutil.which("flac") is None:
        pytest.skip("flac is not installed; Debian's package of that name has it")
    run = subprocess.run(["flac", "--test", take[0]], capture_output=True, text=True, check=False, timeout=60)
    assert run.returncode == 0, run.stderr
    assert "ok" in run.stderr
    info = soundfile.info(take[0])
    assert (info.samplerate, info.channels, info.subtype, info.frames) == (RATE, 1, "PCM_24", len(take[1]))


WRITER = """
import sys, time
from pathlib import Path
import numpy as np
from firmware.commands import OpenTake
from firmware.takes.recorder import Recorder
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.stick import FolderStick

recorder = Recorder(0)
disk = DiskThread(FolderStick(Path(sys.argv[1])), lambda event: None, lambda: recorder.now)
disk.start()
disk.submit(OpenTake(1, "take.flac", 0))
recorder.start(1, 0)
begun = time.monotonic()
print("ready", flush=True)
while True:
    at = recorder.now
    for chunk in recorder.process(((np.arange(at, at + 480) * 7919 % 65521) / 2**17).astype(np.float32)):
        disk.submit(chunk)
    print(recorder.now, flush=True)
    time.sleep(max(0.0, begun + recorder.now / 48000 - time.monotonic()))
"""
"""Records in real time until it is killed, and says after each block how many samples it has heard."""


@pytest.mark.parametrize("seed", [1, 2])
def test_a_writer_that_is_killed_loses_at_most_the_last_second(tmp_path: Path, seed: int) -> None:
    """SIGKILL after a random time: what the box had heard until then is there but for 1.2 s at most."""
    root = tmp_path / "KEELNOTE"
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(root)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": "."},
    )
    assert writer.stdout is not None
    assert writer.stdout.readline() == "ready\n"
    time.sleep(random.Random(seed).uniform(1.3, 2.6))  # noqa: S311 - any time will do
    writer.send_signal(signal.SIGKILL)
    heard = int(writer.stdout.read().split()[-1])
    writer.wait(10)
    writer.stdout.close()
    truth = np.arange(heard) * 7919 % 65521 * 2**6
    raw = decoded("ffmpeg", root / "take.flac")
    assert len(raw) >= heard - 1.2 * RATE
    assert np.array_equal(raw, truth[: len(raw)])
    stick = FolderStick(root)
    assert stick.mend() == ("take.flac",)
    for program in DECODERS:
        mended = decoded(program, root / "take.flac")
        assert len(mended) >= heard - 1.2 * RATE
        assert np.array_equal(mended, truth[: len(mended)])
    assert soundfile.info(root / "take.flac").frames == len(mended)
    print(f"killed after {heard / RATE:.2f} s, {(heard - len(mended)) / RATE:.3f} s lost")  # noqa: T201 - the figure itself
