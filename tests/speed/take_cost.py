"""What recording costs: `python tests/speed/take_cost.py [runs]`.

Processor time per second of sound, as a share of one core, in blocks of 512: the take alone (recorder, disk thread,
24-bit FLAC on a real folder, fsync left out, which waits but does not work), the ear alone, and both together, one
after the other on the same block. The sound is a player: a tone with twelve partials, another one each second, in pink
noise 40 dB below. The take is measured with five such players as well, which is more to encode, and so is the ear,
which looks for one note and works longest where there are several. Each figure is the median of all seconds of five
runs of 20 s.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.commands import OpenTake
from firmware.hearing.ear import Ear
from firmware.takes.recorder import Recorder
from firmware.units import BLOCK, RATE, Samples
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.stick import FolderStick
from hardware.simulated.room import pink_noise

RESULTS = Path(__file__).parent / "results" / "take_cost.json"
SECONDS = 20
RUNS = 5
PER_SECOND = RATE // BLOCK + 1

Hear = Callable[[Samples, Samples], object]


def band(seconds: int, tones: int) -> Samples:
    """A chord of so many tones in pink noise, another one each second."""
    generator = np.random.default_rng(5)
    when = np.arange(RATE) / RATE
    pieces = []
    for _ in range(seconds):
        piece = np.zeros(RATE)
        for steps in generator.integers(0, 36, tones):
            hz = 110.0 * 2 ** (steps / 12)
            for partial in range(1, 13):
                piece += np.sin(2 * np.pi * partial * hz * when + generator.uniform(0, 6.3)) / partial**1.2
        pieces.append(0.03 * piece)
    noise = pink_noise(1 << 20, -65.0, generator)
    sound = np.concatenate(pieces)
    return (sound + noise[np.arange(len(sound)) % len(noise)]).astype(np.float32)


class Taker:
    """The way of a take, from the block to the file."""

    def __init__(self, folder: Path, channels: int) -> None:
        self.recorder = Recorder()
        self.disk = DiskThread(
            FolderStick(folder / "KEELNOTE", fsync=lambda _: None), lambda _: None, lambda: self.recorder.now
        )
        self.disk.submit(OpenTake(1, "take-01.flac", 0, channels))
        self.recorder.start(1, 0, channels)

    def hear(self, mic: Samples, own: Samples) -> None:
        """Take in a block."""
        for chunk in self.recorder.process(mic, own):
            self.disk.submit(chunk)
        self.disk.pump()


def cost(make: Callable[[Path], list[Hear]], sound: Samples) -> list[float]:
    """Per cent of a core for each second of sound; the second one is where the own sound goes."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        hearers = make(Path(folder))
        for second in range(len(sound) // RATE):
            begun = time.process_time()
            for at in range(second * RATE, (second + 1) * RATE, BLOCK):
                block = sound[at : min(at + BLOCK, (second + 1) * RATE)]
                for hear in hearers:
                    hear(block, block)
            found.append(100 * (time.process_time() - begun))
    return found[1:]


def main() -> None:
    """Measure and write the figures."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else RUNS
    player, players = band(SECONDS, 1), band(SECONDS, 5)
    silent = np.zeros(BLOCK, np.float32)

    def ear() -> Hear:
        heard = Ear()
        return lambda mic, _own: heard.process(mic, silent[: len(mic)])

    ways: dict[str, tuple[Samples, Callable[[Path], list[Hear]]]] = {
        "take_percent": (player, lambda folder: [Taker(folder, 1).hear]),
        "take_of_players_percent": (players, lambda folder: [Taker(folder, 1).hear]),
        "take_of_two_channels_percent": (players, lambda folder: [Taker(folder, 2).hear]),
        "ear_percent": (player, lambda _: [ear()]),
        "ear_among_players_percent": (players, lambda _: [ear()]),
        "take_and_ear_percent": (player, lambda folder: [Taker(folder, 1).hear, ear()]),
    }
    runs: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(times):
        for name, (sound, make) in ways.items():
            runs[name] += cost(make, sound)
    found: dict[str, object] = {name: round(statistics.median(values), 3) for name, values in runs.items()}
    found |= {
        "date": time.strftime("%Y-%m-%d", time.gmtime()),
        "machine": f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}",
    }
    text = json.dumps(found, indent=2) + "\n"
    if times >= RUNS:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
