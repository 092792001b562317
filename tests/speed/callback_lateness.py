"""How late callbacks are served while the box works: `python tests/speed/callback_lateness.py [seconds]`.

The whole box on real PortAudio and PulseAudio: drone, click, ear and take, and the real OLED driver on a model of the
chip whose bus takes as long as at 400 kHz. Both cores are kept busy by other programs. The box goes before them, as its
service's does by nice -10 and real-time scheduling for the callback's thread; here by real-time scheduling for all of
it, because a test machine may have other sessions, to which nice means nothing (sched(7), autogroup). Two phases of so
many seconds: with a stick that takes what it is given, and with one that stands still. Before them the same card serves
a program that does nothing at all: what that one has to bear is the server's. The lateness of a callback is counted
from the steadiest clock that fits the second around it: the block's number times its length, set by the callback that
was served earliest. PulseAudio asks for two blocks at a time, so that every first one counts as a block's length late.

Microphone and loudspeaker are one card with one clock. Two null sinks have two clocks, whose blocks meet at a phase
that jumps, and when a program joins one of them, that one may stand still for 0.1 s. After the underrun that follows,
PortAudio asked ALSA's plugin without a pause for the rest of the run: a real-time thread on 98 % of a processor, which
Linux stops for 50 ms of each second (sched(7), sched_rt_runtime_us). `two_clocks` is the program that does nothing on
two such sinks, with a player that joins.

A machine that shares its processors may stand still under all of its programs. Sentries at the highest priority tell
when; `p999_between_stalls_ms` leaves out the tenth of a second after each. The result is kept from 60 seconds on.
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
from hardware.drivers.sound_card import PortAudioCard
from hardware.drivers.sound_devices import device_pair
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


STALL_SECONDS = 0.005
"""A processor that wakes even the most urgent program so late stood still for everybody."""

AFTER_STALL = 0.1
"""Seconds after that in which callbacks are not those of a box with processors of its own."""

SENTRY = """
import os, sys, time
os.sched_setaffinity(0, {int(sys.argv[1])})
os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(99))
while True:
    due = time.monotonic() + 0.002
    time.sleep(0.002)
    late = time.monotonic() - due
    if late > float(sys.argv[2]):
        print(due, due + late, flush=True)
"""
"""Sleeps on one processor at the highest priority there is, and says from when to when it was not woken."""


class Sentries:
    """One on each processor; they tell when the machine under all programs stood still."""

    def __init__(self, folder: Path) -> None:
        self._said = [folder / f"sentry-{core}.txt" for core in range(os.cpu_count() or 1)]
        self._programs = [self._start(core, said) for core, said in enumerate(self._said)]

    @staticmethod
    def _start(core: int, said: Path) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-c", SENTRY, str(core), str(STALL_SECONDS)]
        with said.open("wb") as out:
            return subprocess.Popen(command, stdout=out, stderr=subprocess.DEVNULL)

    def stalls(self, begin: float, end: float) -> list[tuple[float, float]]:
        """From when to when a processor stood still, within some time."""
        lines = [line.split() for said in self._said for line in said.read_text().splitlines()]
        found = [(float(due), float(woken)) for due, woken in lines]
        return [stall for stall in found if begin - AFTER_STALL < stall[1] and stall[0] < end]

    def close(self) -> None:
        """End them."""
        for program in self._programs:
            program.kill()
            program.wait()


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


class Watch:
    """Notes of each callback of a card when it began, how long it had waited for the interpreter, and its CPU time."""

    def __init__(self, card: PortAudioCard, sentries: Sentries) -> None:
        self.card = card
        self._sentries = sentries
        self._callback = card._callback
        self._lost = 0
        self.clear()
        card._callback = self._note  # type: ignore[method-assign] - the same, with notes

    def clear(self) -> None:
        """Begin anew."""
        self._notes: list[tuple[float, float, float, float]] = []
        self._lost = self.card.lost

    def _note(self, heard: Samples, played: Samples, frames: int, times: Any, status: Any) -> None:  # noqa: ANN401 - PortAudio's signature
        # PortAudio reads the clock of the day when it has been woken, before it asks for the interpreter.
        began, waited, spent = time.monotonic(), time.time() - times.currentTime, time.thread_time()
        self._callback(heard, played, frames, times, status)
        self._notes.append((began, waited, spent, time.thread_time()))

    def figures(self) -> dict[str, float]:
        """All of them since the last `clear`."""
        began, waited, spent, spent_after = np.array(self._notes).T
        stalls = self._sentries.stalls(began[0], began[-1])
        calm = np.ones(len(began), dtype=bool)
        for due, woken in stalls:
            calm &= (began < due) | (began > woken + AFTER_STALL)
        outside = spent[-1] - spent[0] - (spent_after - spent)[:-1].sum()
        return {
            **figures(list(began), self.card.latency),
            "waited_for_interpreter_p999_ms": round(1000 * float(np.percentile(waited, 99.9)), 2),
            "waited_for_interpreter_worst_ms": round(1000 * float(waited.max()), 2),
            "driver_percent_of_a_core": round(100 * outside / (began[-1] - began[0]), 1),
            "late_blocks": self.card.lost - self._lost,
            "machine_stalls": len(stalls),
            "machine_stall_worst_ms": round(1000 * max((woken - due for due, woken in stalls), default=0.0), 1),
            "p999_between_stalls_ms": round(
                float(np.percentile(lateness(list(began))[calm], 99.9) if calm.any() else np.nan), 2
            ),
        }


def figures(times: list[float], latency: float) -> dict[str, float]:
    """Lateness in milliseconds: median, percentiles, worst; and the share of the output latency."""
    found = lateness(times)
    p999 = float(np.percentile(found, 99.9))
    return {
        "callbacks": len(times),
        "median_ms": round(float(np.median(found)), 2),
        "p99_ms": round(float(np.percentile(found, 99)), 2),
        "p999_ms": round(p999, 2),
        "worst_ms": round(float(found.max()), 2),
        "p999_of_output_latency": round(p999 / (1000 * latency), 3),
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


def bare(
    devices: str, seconds: float, sentries: Sentries, join: Callable[[], object] = lambda: None
) -> dict[str, float]:
    """What a program that does nothing has to bear; `join` is called when it has begun."""
    card = PortAudioCard(device_pair(devices), realtime=True)
    watch = Watch(card, sentries)
    card.start(np.zeros_like)
    time.sleep(0.5)
    join()
    time.sleep(1.5)
    watch.clear()
    time.sleep(seconds)
    found = watch.figures()
    card.stop()
    return found


def run(server: SoundServer, folder: Path, seconds: float) -> dict[str, Any]:
    """All phases; their figures."""
    chip = SlowChip()
    smbus2.SMBus = chip.bus
    screen = OledScreen(lambda: open_oled(own_board().screen))
    stick = SimulatedStick(folder / "KEELNOTE")
    server.feed_card(player(3 * seconds + 40))
    sentries = Sentries(folder)
    alone = bare(server.one_card, seconds, sentries)
    box = LiveBox(server, folder, keep=False, stick=stick, screen=screen, devices=server.one_card)
    watch = Watch(box.card, sentries)
    screen.start()
    box.start()
    wait_until(lambda: box.loop.now() > RATE, 30)
    for key in ("Take", "Drone", "Pulse", "Ear"):
        box.tap(key)
        time.sleep(0.3)
    time.sleep(2.0)
    latency, found = box.card.latency, {"bare": alone}
    for steps in (*(1,) * PAGES_TO_PULSE, 0):  # the last push goes to the page's first field, the tempo
        box.panel.knob_down()
        if steps:
            box.panel.turn(steps)
        box.panel.knob_up()
        time.sleep(0.2)
    for phase in ("working", "stick_stalls"):
        if phase == "stick_stalls":
            stick.stall()
        shown = screen.shown
        watch.clear()
        turn_for(box, seconds)
        found[phase] = {**watch.figures(), "pictures": screen.shown - shown}
    stick.go_on()
    box.loop.stop()
    screen.stop()
    server.end_all()
    if seconds >= KEPT_FROM:
        found["two_clocks"] = bare(server.devices, 20.0, sentries, lambda: server.feed(player(25.0)))
    sentries.close()
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
    with tempfile.TemporaryDirectory() as folder, sound_server(one_card=True) as server, busy(os.cpu_count() or 1):
        first = urgent()
        result = {**run(server, Path(folder), seconds), "urgent": first, **machine()}
    text = json.dumps(result, indent=2) + "\n"
    if seconds >= KEPT_FROM:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
