"""The entry on the box: real panel, OLED, sound card and stick, put together and run until the power goes.

Run it with `python -m hardware.device`. Whatever is missing is said in report.txt and the box runs without it.
"""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final, Protocol

from firmware.errors import DeviceError
from firmware.ports import Keyboard, Panel, Screen, Stick
from hardware.board.table import own_board
from hardware.card_keeper import Card
from hardware.desk import live_box
from hardware.drivers.clock_chip import known_date
from hardware.drivers.midi_keyboard import MidiKeyboards
from hardware.drivers.oled import OledScreen, open_oled
from hardware.drivers.panel import GpioPanel
from hardware.drivers.sound_card import PortAudioCard
from hardware.drivers.sound_devices import device_pair
from hardware.drivers.stick import FolderStick
from hardware.drivers.take_spool import Spool
from hardware.live_loop import SWITCH_SECONDS
from hardware.switch_on import report, switch_on

MOUNT: Final = Path("/media/keelnote")
SPOOL: Final = Path("/var/lib/keelnote/spool")
"""On the box's own card, on a partition that keeps what is written: takes wait there for a stick that is away."""


class ServedScreen(Screen, Protocol):
    """A screen with a thread of its own."""

    def start(self) -> None:
        """Begin to serve the panel."""

    def stop(self) -> None:
        """End."""


def run_box(
    stick: Stick,
    screen: ServedScreen,
    panel: Panel,
    card: Card,
    wait: Callable[[], object],
    spool: Spool | None = None,
    keyboard: Keyboard | None = None,
    date: str = "",
) -> int:
    """Run a box on some devices until `wait` returns; the number of events and blocks that were dropped."""
    found = switch_on(stick, date)
    report(stick, found.report)
    loop = live_box(stick, screen, found.start, card, spool=spool, keyboard=keyboard)
    screen.start()
    loop.start()
    try:
        try:
            panel.start(loop.post, loop.now)
        except DeviceError as error:
            report(stick, (error.text,))
        wait()
    finally:
        panel.stop()
        loop.stop()
        screen.stop()
    return loop.dropped


def main(argv: Sequence[str] | None = None) -> int:
    """Run the box until it is told to stop (SIGTERM, as the service manager sends it, or Ctrl-C)."""
    parser = argparse.ArgumentParser(prog="python -m hardware.device", description="The box itself.")
    parser.add_argument("--stick", type=Path, default=MOUNT, metavar="DIR", help=f"where the stick is ({MOUNT})")
    parser.add_argument("--spool", type=Path, default=SPOOL, metavar="DIR", help=f"where takes wait for it ({SPOOL})")
    parser.add_argument("--device", metavar="IN,OUT", help="sound card by name or number; one for both, or two")
    args = parser.parse_args(argv)
    board = own_board()
    ended = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: ended.set())
    sys.setswitchinterval(SWITCH_SECONDS)

    def run_on() -> None:
        # For the journal, and for whoever waits until the box answers.
        sys.stdout.write("Keelnote is running.\n")
        sys.stdout.flush()
        ended.wait()

    run_box(
        FolderStick(args.stick / "KEELNOTE", mounted=True),
        OledScreen(lambda: open_oled(board.screen)),
        GpioPanel(board),
        PortAudioCard(device_pair(args.device)),
        run_on,
        Spool(args.spool),
        MidiKeyboards(),
        known_date(),
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
