"""A real ALSA card on a real kernel appears, vanishes and returns while the box plays; nothing of the box is replaced.

snd-aloop is a card of the kernel whose input is its own output (kernel documentation, sound/cards). To unbind its
driver is what pulling a USB card does: the kernel disconnects it from whoever has it open.
"""

from __future__ import annotations

import re
import signal
import sys
import time
from collections.abc import Iterator

import pytest

from tests.guest.kernel import Kernel
from tests.guest.machine import Guest, Job
from tests.guest.sound_box import HZ

DRIVER = "/sys/bus/platform/drivers/snd_aloop"
PATIENCE = 240.0

QUIETEST_DB = -40.0
OFF_HZ = 5.0
"""An emulated processor is too slow to lose no block; that it is this tone, and no noise, is what is asked here."""


@pytest.fixture(scope="module")
def machine(kernel: Kernel) -> Iterator[Guest]:
    """A guest with a sound card, which is out at first."""
    with Guest(kernel, ("snd_aloop",)) as running:
        card(running, "unbind")
        yield running


def card(guest: Guest, what: str) -> None:
    """Bind the card, or unbind it."""
    guest.run("sh", "-c", f"echo snd_aloop.0 > {DRIVER}/{what}")


def wait_for_status(guest: Guest, box: Job, after: int, begin: str) -> float:
    """Wait for the box to say so, after some lines that it has said already; how many seconds that took."""
    began = time.monotonic()
    while not any(line.startswith(f"STATUS={begin}") for line in box.lines[after:]):
        assert time.monotonic() < began + PATIENCE, box.lines[-20:]
        guest.wait_next(box, PATIENCE)
    return time.monotonic() - began


def heard(guest: Guest) -> tuple[float, float]:
    """Level in dB and pitch in Hz of what comes out of the card."""
    said = guest.run(sys.executable, "tests/guest/sound_capture.py", "3", seconds=PATIENCE)
    found = re.search(r"captured \d+ ([-\d.]+) dB ([\d.]+) Hz", said)
    assert found, said
    return float(found[1]), float(found[2])


@pytest.mark.timeout(900)
def test_a_card_that_appears_is_taken_up_vanishes_and_returns(machine: Guest) -> None:
    box = machine.start(sys.executable, "tests/guest/sound_box.py", "/run/box")
    machine.wait_for(box, "READY=1", PATIENCE)
    machine.wait_for(box, "STATUS=No sound, the box runs on in silence: none is plugged in", PATIENCE)
    for _ in range(2):
        said = len(box.lines)
        card(machine, "bind")
        wait_for_status(machine, box, said, "Sound: Loopback")
        level, hz = heard(machine)
        assert level > QUIETEST_DB
        assert abs(hz - HZ) < OFF_HZ
        said = len(box.lines)
        card(machine, "unbind")
        # PortAudio notices by itself that this card has gone, or stops calling back, which is noticed after 0.5 s.
        assert wait_for_status(machine, box, said, "No sound") < 10
    machine.send_signal(box, signal.SIGTERM)
    assert machine.wait(box, PATIENCE).code == 0
    assert [line for line in box.lines if "Traceback" in line or "Error" in line] == []
