"""How late callbacks are served while the box works: `python tests/speed/callback_lateness.py [seconds]`.

The whole box on real PortAudio and PulseAudio: drone, click, ear and take, and the real OLED driver on a model of the
chip whose bus takes as long as at 400 kHz. Both cores are kept busy by other programs. The box goes before them, as its
service's does by nice -10 and real-time scheduling for the callback's thread; here by real-time scheduling for all of
it, because a test machine may have other sessions, to which nice means nothing (sched(7), autogroup). Two phases of so
many seconds: with a stick that takes what it is given, and with one that stands still. The lateness of a callback is
counted from the steadiest clock that fits the second around it: the block's number times its length, set by the
callback that was served earliest. PulseAudio asks for two blocks at a time, so that every first one counts as a block's
length late. The result is kept from 60 seconds on.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
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
from tests.speed.sound_rig import LiveBox, machine, sound_server, urgent, wait_until

RESULTS = Path(__file__).parent / "results" / "callback_lateness.json"
KEPT_FROM = 60.0
BYTE_SECONDS = 9 / 400_000
"""On the wire: eight bits and the answer, at 400 kHz (I2C, NXP UM10204)."""

PAGES_TO_PULSE = 3
"""From the page at the start to the one that moves most."""

TURN_SECONDS = 0.05


class SlowChip(SimulatedOledChip):
    """The model of the chip on a bus that takes its time."""

    def _transfer(self, address: int, data: bytes) -> None:
        time.sleep(len(data) * BYTE_SECONDS)
        super()._transfer(address, data)


@contextlib.contextmanager
def busy(cores: int) -> Iterator[None]:
    """Keep some cores busy, at ordinary priority, with work that never waits."""
    programs = [subprocess.Popen([sys.executable, "-c", "while True: sum(range(1000))"]) for _ in range(cores)]
    for program in programs:
        with contextlib.suppress(OSError):
            os.sched_setscheduler(program.pid, os.SCHED_OTHER, os.sched_param(0))
    try:
        yield
    finally:
        for program in programs:
            program.kill()
            program.wait()


def lateness(times: list[float]) -> npt.NDArray[np.float64]:
    """Milliseconds that each callback is later than a steady clock, shape (n,), for moments in seconds.

    The clock is set anew by each second, for the server's own wanders: a callback that is late is late against its
    neighbours, as all of them together can't be late for long.
    """
    behind = np.asarray(times, dtype=np.float64) - np.arange(len(times)) * (BLOCK / RATE)
    half = RATE // BLOCK // 2
    earliest = [behind[max(0, at - half) : at + half].min() for at in range(len(behind))]
    return np.asarray(1000 * (behind - earliest), dtype=np.float64)


def figures(times: list[float], latency: float) -> dict[str, float]:
    """Lateness in milliseconds: median, percentiles, worst; and the share of the output latency."""
    found = lateness(times)
    p999 = float(np.percentile(found, 99.9))
    return {
        "callbacks": len(times),
        "median_ms": round(float(np.median(found)), 2),
        "p99_ms": round(float(np.percentile(found, 99)), 2),
        "p99.9_ms": round(p999, 2),
        "worst_ms": round(float(found.max()), 2),
        "p99.9_of_output_latency": round(p999 / (1000 * latency), 3),
    }


def player(seconds: float) -> Samples:
    """A tone with seven partials."""
    when = np.arange(int(RATE * seconds)) / RATE
    return np.asarray(0.1 * sum(np.sin(2 * np.pi * n * 220.0 * when) / n for n in range(1, 8)), dtype=np.float32)


def turn_for(box: LiveBox, seconds: float) -> None:
    """Turn the knob to and fro, twenty detents a second, so that no picture is like the one before."""
    ends = time.monotonic() + seconds
    for step in itertools.cycle((1, -1)):
        box.panel.turn(step)
        time.sleep(TURN_SECONDS)
        if time.monotonic() > ends:
            return


def watched(box: LiveBox) -> list[float]:
    """Note the moment of each callback from now on."""
    times: list[float] = []
    process = box.loop._engine.process

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
    server.feed(player(2 * seconds + 20))
    wait_until(lambda: box.loop.now() > RATE, 30)
    for key in ("Take", "Drone", "Pulse", "Ear"):
        box.tap(key)
        time.sleep(0.3)
    time.sleep(2.0)
    latency, found = box.card.latency, {}
    for steps in (*(1,) * PAGES_TO_PULSE, 0):  # the last push goes to the page's first field, the tempo
        box.panel.knob_down()
        if steps:
            box.panel.turn(steps)
        box.panel.knob_up()
        time.sleep(0.2)
    for phase in ("working", "stick_stalls"):
        if phase == "stick_stalls":
            stick.stall()
        shown, lost, times[:] = screen.shown, box.card.lost, []
        turn_for(box, seconds)
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
        first = urgent()
        result = {**run(server, Path(folder), seconds), "urgent": first, **machine()}
    text = json.dumps(result, indent=2) + "\n"
    if seconds >= KEPT_FROM:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
