"""How soon a key is answered, and what a picture costs: `python tests/speed/panel.py [presses]`.

A whole box runs in real time on a card without sound. Its Drone key is tapped on a mock pin that bounces for 5 ms, then
on a number pad; what is measured is the time from the first edge to the command that gives the engine its new sound.
The engine takes that at its next block, and the card plays it after its own latency. Then the processor time of a
picture through our driver, the wire left out, beside luma's own `display` with the same picture; and the bytes that go
over the wire for a picture, for one that is equal, and in the seconds that this takes at 400 kHz, 9 bits a byte.

On a machine that does much else, `chrt -f 80` before the command keeps that out of the figures: the service of the box
comes before everything else on it.
"""

from __future__ import annotations

import json
import os
import platform
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np
import smbus2
from gpiozero.pins.mock import MockFactory
from luma.core.interface.serial import i2c
from luma.oled.device import sh1106, ssd1306
from PIL import Image

from firmware.commands import Play
from firmware.events import PanelKey
from firmware.parts.part import Start
from firmware.ports import Panel
from firmware.screens.frame import Frame
from hardware.board.table import ScreenPort, own_board
from hardware.desk import live_box
from hardware.drivers.input_panel import InputPanel
from hardware.drivers.oled import OledScreen, open_oled
from hardware.drivers.oled_chip import OledPanel
from hardware.drivers.panel import GpioPanel
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.stick import FolderStick
from hardware.live_loop import SWITCH_SECONDS
from hardware.simulated.input_device import SimulatedInput, SimulatedInputs
from hardware.simulated.oled_chip import SimulatedOledChip
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.sound_card import QuietCard

RESULTS = Path(__file__).parent / "results" / "panel.json"
BOUNCE = 0.005
BOUNCES = 6
LONGEST_TAP = 0.4
"""Seconds; a key that is down for half a second is held, which means something else."""

WIRE_HERTZ = 400_000
DRONE = 71
"""The 7 of a number pad."""


def figures(values: list[float]) -> dict[str, float]:
    """Median, 99th percentile and worst, in milliseconds."""
    ms = 1000 * np.array(values)
    return {
        "median": round(float(np.median(ms)), 2),
        "p99": round(float(np.percentile(ms, 99)), 2),
        "worst": round(float(ms.max()), 2),
    }


def answered(panel: Panel, up: Callable[[], float], down: Callable[[], object], presses: int) -> dict[str, float]:
    """From the first edge of a press and its release to the sound that follows: the key acts as it comes up."""
    with TemporaryDirectory() as folder:
        loop = live_box(FolderStick(Path(folder) / "KEELNOTE"), SimulatedScreen(), Start(), QuietCard())
        played: list[float] = []
        play = loop._dispatcher.table[Play]

        def watch(command: Play) -> None:
            play(command)
            played.append(time.monotonic())

        loop._dispatcher.table[Play] = watch
        loop.start()
        panel.start(loop.post, loop.now)
        time.sleep(0.5)
        taken = []
        random = np.random.default_rng(7)
        while len(taken) < presses:
            first = time.monotonic()
            down()
            time.sleep(0.06 + random.uniform(0.0, 0.05))
            played.clear()
            began = up()
            if began - first > LONGEST_TAP:
                continue  # this program was not let run, and what it made is no tap any more
            while not played:
                assert time.monotonic() - began < 2.0, (loop.last_fault, loop.faults)
                time.sleep(0.0005)
            taken.append(played[0] - began)
        panel.stop()
        loop.stop()
    return figures(taken)


def by_pin(presses: int) -> dict[str, float]:
    """A bouncing key; what is timed is that it comes up, since that is what a tap acts on."""
    factory, board = MockFactory(), own_board()
    number = dict(board.keys.pins)[PanelKey.DRONE]

    def bounce(there: Callable[[], None], back: Callable[[], None]) -> float:
        began = time.monotonic()
        there()
        for step in range(1, BOUNCES + 1):
            (back if step % 2 else there)()
            time.sleep(max(0.0, began + BOUNCE * step / BOUNCES - time.monotonic()))
        there()
        return began

    def down() -> float:
        pin = factory.pin(number)
        return bounce(pin.drive_low, pin.drive_high)

    def up() -> float:
        pin = factory.pin(number)
        return bounce(pin.drive_high, pin.drive_low)

    return answered(GpioPanel(board, SharedPins(lambda: factory)), up, down, presses)


def by_pad(presses: int) -> dict[str, float]:
    """A number pad, whose own electronics have done with its bounces."""
    inputs, pad = SimulatedInputs(), SimulatedInput()
    inputs.plug(pad)

    def up() -> float:
        began = time.monotonic()
        pad.release(DRONE)
        return began

    return answered(InputPanel(lambda: inputs), up, lambda: pad.press(DRONE), presses)


class Nothing(SimulatedOledChip):
    """A wire that takes everything and costs nothing."""

    def i2c_rdwr(self, *_messages: object) -> None:
        pass

    def write_i2c_block_data(self, *_: object) -> None:
        pass


def frame_cost(name: str, runs: int = 300) -> dict[str, float]:
    """Milliseconds of processor time for one picture, ours and luma's own way."""
    smbus2.SMBus = Nothing(name).bus
    rng = np.random.default_rng(1)
    frames = [Frame(rng.bytes(1024)) for _ in range(10)]
    ours = OledPanel(ScreenPort(name, 1, 0x3C))
    theirs = {"ssd1306": ssd1306, "sh1106": sh1106}[name](i2c(port=1, address=0x3C))
    theirs.persist = True

    def timed(show: Callable[[Frame], object]) -> float:
        taken = []
        for run in range(runs):
            began = time.process_time()
            show(frames[run % len(frames)])
            taken.append(time.process_time() - began)
        return round(1000 * float(np.median(taken)), 3)

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # Pillow's getdata
        images = {frame.bits: Image.frombytes("1", (128, 64), frame.bits) for frame in frames}
        found = {"ours": timed(ours.write), "lumas": timed(lambda frame: theirs.display(images[frame.bits]))}
    ours.close()
    return found


def bytes_sent(name: str) -> dict[str, float]:
    """Bytes over the wire for one picture, for a thousand equal ones, and the wire's time for one."""
    chip = SimulatedOledChip(name)
    smbus2.SMBus = chip.bus
    screen = OledScreen(lambda: open_oled(ScreenPort(name, 1, 0x3C)), renew=600.0)
    screen.start()
    screen.flush(5.0)
    before = chip.sent
    screen.show(Frame(b"\x55" * 1024))
    screen.flush(5.0)
    one = chip.sent - before
    for _ in range(1000):
        screen.show(Frame(b"\x55" * 1024))
    screen.flush(5.0)
    equal = chip.sent - before - one
    screen.stop()
    return {"a_picture": one, "a_thousand_equal": equal, "wire_ms": round(1000 * 9 * (one + 1) / WIRE_HERTZ, 1)}


def measure(presses: int) -> dict[str, object]:
    """All figures."""
    sys.setswitchinterval(SWITCH_SECONDS)
    return {
        "date": time.strftime("%Y-%m-%d"),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}",
        "presses": presses,
        "answered_ms": {"key that bounces for 5 ms": by_pin(presses), "number pad": by_pad(presses)},
        "picture_cpu_ms": {name: frame_cost(name) for name in ("ssd1306", "sh1106")},
        "bytes": {name: bytes_sent(name) for name in ("ssd1306", "sh1106")},
    }


def main() -> None:
    """Measure, print and keep."""
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    text = json.dumps(measure(presses), indent=2) + "\n"
    RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
