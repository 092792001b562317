"""How late callbacks are served while the box works: `python tests/speed/callback_lateness.py [seconds]`.

The whole box on real PortAudio and PulseAudio: drone, click, ear and take, and the real OLED driver on a model of the
chip whose bus takes as long as at 400 kHz. Both cores are kept busy by other programs of ordinary priority; the box has
what its service gives it, nice -10 and real-time scheduling for the callback's thread. Two phases of so many seconds:
with a stick that takes what it is given, and with one that stands still. The lateness of a callback is counted from the
steadiest clock that fits, the block's number times its length, set by the callback that was served earliest. PulseAudio
asks for two blocks at a time, so that every first one counts as a block's length late. The result is kept from 60
seconds on.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import numpy.typing as npt
import smbus2

from firmware.units import BLOCK, RATE, Samples
from hardware.board.table import own_board
from hardware.drivers.oled import OledScreen, open_oled
from hardware.simulated.oled_chip import SimulatedOledChip
from hardware.simulated.stick import SimulatedStick
from tests.contract.sound.server import SoundServer
from tests.speed.sound_rig import LiveBox, machine, sound_server, wait_until

RESULTS = Path(__file__).parent / "results" / "callback_lateness.json"
KEPT_FROM = 60.0
BYTE_SECONDS = 9 / 400_000
"""On the wire: eight bits and the answer, at 400 kHz (I2C, NXP UM10204)."""

NICE = -10


class SlowChip(SimulatedOledChip):
    """The model of the chip on a bus that takes its time."""

    def _transfer(self, address: int, data: bytes) -> None:
        time.sleep(len(data) * BYTE_SECONDS)
        super()._transfer(address, data)


@contextlib.contextmanager
def busy(cores: int) -> Iterator[None]:
    """Keep some cores busy, at ordinary priority, with work that never waits."""
    programs = [subprocess.Popen([sys.executable, "-c", "while True: sum(range(1000))"]) for _ in range(cores)]
    try:
        yield
    finally:
        for program in programs:
            program.kill()
            program.wait()


def lateness(times: list[float]) -> npt.NDArray[np.float64]:
    """Milliseconds that each callback is later than the steadiest clock."""
    late = np.asarray(times, dtype=np.float64) - np.arange(len(times)) * (BLOCK / RATE)
    # The server's clock is the computer's own, but for some parts in a million.
    drift = np.polyfit(np.arange(len(late)), late, 1)[0]
    late -= np.arange(len(late)) * drift
    return np.asarray(1000 * (late - late.min()), dtype=np.float64)


def figures(times: list[float], latency: float) -> dict[str, float]:
    """Lateness in milliseconds: median, 99.9th percentile, worst; and the share of the output latency."""
    late = lateness(times)
    p999 = float(np.percentile(late, 99.9))
    return {
        "callbacks": len(times),
        "median_ms": round(float(np.median(late)), 2),
        "p99_ms": round(float(np.percentile(late, 99)), 2),
        "p99.9_ms": round(p999, 2),
        "worst_ms": round(float(late.max()), 2),
        "p99.9_of_output_latency": round(p999 / (1000 * latency), 3),
    }


def watched(box: LiveBox) -> list[float]:
    """Note the moment of each callback from now on."""
    times: list[float] = []
    process: Callable[[Samples], Samples] = box.loop._engine.process

    def note(mic: Samples) -> Samples:
        times.append(time.monotonic())
        return process(mic)

    box.loop._engine.process = note  # type: ignore[method-assign] - the same, with its moments
    return times


def run(server: SoundServer, folder: Path, seconds: float) -> dict[str, Any]:
    """Both phases; their figures."""
    chip = SlowChip()
    smbus2.SMBus = chip.bus
    screen = OledScreen(lambda: open_oled(own_board().screen))
    stick = SimulatedStick(folder / "KEELNOTE")
    box = LiveBox(server, folder, keep=False, stick=stick, screen=screen)
    times = watched(box)
    screen.start()
    box.start()
    when = np.arange(RATE * int(2 * seconds + 20)) / RATE
    server.feed((0.1 * sum(np.sin(2 * np.pi * 220.0 * n * when) / n for n in range(1, 8))).astype(np.float32))
    wait_until(lambda: box.loop.now() > RATE, 30)
    for key in ("Take", "Drone", "Pulse", "Ear"):
        box.tap(key)
        time.sleep(0.3)
    time.sleep(2.0)
    latency, found = box.card.latency, {}
    for phase in ("working", "stick_stalls"):
        if phase == "stick_stalls":
            stick.stall()
        shown, lost, times[:] = screen.shown, box.card.lost, []
        time.sleep(seconds)
        found[phase] = {
            **figures(times[:], latency),
            "late_blocks": box.card.lost - lost,
            "pictures": screen.shown - shown,
        }
    stick.go_on()
    box.loop.stop()
    screen.stop()
    return {
        "seconds": seconds,
        "output_latency_ms": round(1000 * latency, 2),
        **found,
        "scheduling": box.card.scheduling,
        "worst_work_ms": round(1000 * box.card.worst_work, 2),
        "dropped": box.loop.dropped,
        "faults": box.loop.faults,
    }


def main() -> None:
    """Measure and write the figures."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else KEPT_FROM
    with tempfile.TemporaryDirectory() as folder, sound_server() as server, busy(os.cpu_count() or 1):
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, NICE)
        result = {**run(server, Path(folder), seconds), **machine()}
    text = json.dumps(result, indent=2) + "\n"
    if seconds >= KEPT_FROM:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
