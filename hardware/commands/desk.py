"""`keelnote desk`: the box in this terminal, in real time."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
import tempfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final, Protocol, TextIO

from firmware.errors import DeviceError
from firmware.parts.part import Start
from firmware.ports import Keyboard, Screen, Stick
from firmware.units import Samples
from hardware.card_keeper import Card
from hardware.drivers.midi_keyboard import MidiKeyboards
from hardware.drivers.sound_card import PortAudioCard
from hardware.drivers.sound_devices import device_pair
from hardware.drivers.sound_file import read_sound
from hardware.drivers.stick import FolderStick
from hardware.drivers.take_spool import Spool
from hardware.live_loop import SWITCH_SECONDS, LiveLoop
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.sound_card import LoopedMicrophone, QuietCard
from hardware.switch_on import report, switch_on

STICK: Final = Path("keelnote-stick")


class MakeBox(Protocol):
    """Puts a box together that runs in real time."""

    def __call__(
        self,
        stick: Stick,
        screen: Screen,
        start: Start,
        card: Card,
        microphone: Callable[[int], Samples] | None = None,
        spool: Spool | None = None,
        keyboard: Keyboard | None = None,
    ) -> LiveLoop:
        """The box, not yet started."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote desk`."""
    parser.add_argument("--mic", type=Path, metavar="FILE", help="a recording, over and over, in place of a microphone")
    parser.add_argument(
        "--stick", type=Path, default=STICK, metavar="DIR", help=f"the stick's folder (default {STICK})"
    )
    parser.add_argument("--device", metavar="IN,OUT", help="sound card by name or number; one for both, or two")
    parser.add_argument("--no-sound", action="store_true", help="run in silence by the computer's clock")


def run(args: argparse.Namespace, make_box: MakeBox) -> int:
    """Run the box until it is ended; 0 if all went well."""
    if not (_is_terminal(sys.__stdin__) and _is_terminal(sys.__stdout__)):
        allowed = "the desk draws its panel in a terminal"
        raise DeviceError("terminal", "none", allowed, "Start it from one, or use keelnote rehearse.")
    app_of = _textual()
    microphone = LoopedMicrophone(read_sound(args.mic)).read if args.mic else None
    stick = FolderStick(_folder(args.stick) / "KEELNOTE")
    found = switch_on(stick)
    report(stick, found.report)
    card: Card = QuietCard() if args.no_sound else PortAudioCard(device_pair(args.device))
    panel, screen = SimulatedPanel(), SimulatedScreen()
    loop = make_box(stick, screen, found.start, card, microphone, spool_for(stick.root), MidiKeyboards())
    before = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_SECONDS)
    try:
        with quiet_libraries():
            app_of(loop, panel, screen, facts(stick.root, args.mic)).run()
    finally:
        sys.setswitchinterval(before)
        loop.stop()
    print(f"The stick's folder is {stick.root}.")
    return 0


def spool_for(root: Path) -> Spool:
    """Where takes wait for this folder while it is away: among the computer's temporary files, one for each folder."""
    name = f"{zlib.crc32(str(root.resolve()).encode()):08x}"
    return Spool(Path(tempfile.gettempdir()) / "keelnote-spool" / name)


def facts(root: Path, mic: Path | None) -> str:
    """Say where takes go and what is heard, on one line of 80 characters: of a long path its end."""
    heard = f"   Microphone: {_end_of(mic.name, 20)}, over and over" if mic else ""
    return f"Stick: {_end_of(str(root), 71 - len(heard))}{heard}"


def _end_of(text: str, length: int) -> str:
    return text if len(text) <= length else "…" + text[1 - length :]


@contextlib.contextmanager
def quiet_libraries() -> Iterator[None]:
    """Let what C libraries write to stderr go nowhere: ALSA and PortAudio would write into the picture."""
    sys.stderr.flush()
    before = os.dup(2)
    real = sys.__stderr__
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)
    # Textual draws on stderr; here it gets the terminal of stdout, which is one even after 2>log.
    with os.fdopen(os.dup(1), "w", encoding="utf-8") as file:
        sys.__stderr__ = file  # type: ignore[misc]  # typeshed calls it final; textual draws on it
        try:
            yield
        finally:
            sys.__stderr__ = real  # type: ignore[misc]  # the same
            os.dup2(before, 2)
            os.close(before)


def _is_terminal(stream: TextIO | None) -> bool:
    return stream is not None and stream.isatty()


def _folder(path: Path) -> Path:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DeviceError("stick folder", str(path), f"it can't be made: {error}", "Choose another --stick.") from error
    return path


def _textual() -> Callable[..., Any]:
    try:
        from hardware.desk_app.app import DeskApp  # noqa: PLC0415 - the other commands need no textual
    except ImportError as error:
        remedy = "Install the extra with: pip install 'keelnote[desk]'"
        raise DeviceError("desk", "textual", "the Python package is not installed", remedy) from error
    return DeskApp
