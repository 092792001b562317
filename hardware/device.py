"""The entry on the box, `keelnote box`: real panel, OLED, sound card and stick, put together and run.

Whatever is missing is said in report.txt, and the box runs without it; each part is taken up when it comes.
"""

from __future__ import annotations

import argparse
import contextlib
import faulthandler
import gc
import signal
import sys
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final, Protocol

from firmware.commands import KeepSettings, KeepState
from firmware.errors import DeviceError
from firmware.events import Noticed
from firmware.lamp import Lamp
from firmware.messages import sentence_of
from firmware.parts.part import Start
from firmware.ports import Keyboard, Panel, Screen, Stick
from firmware.screens.farewell import farewell
from firmware.units import Samples
from hardware.board.table import Board, own_board
from hardware.card_keeper import Card
from hardware.drivers.clock_chip import known_date
from hardware.drivers.input_panel import InputPanel
from hardware.drivers.led import GpioLed
from hardware.drivers.midi_keyboard import MidiKeyboards
from hardware.drivers.oled import OledScreen, open_oled
from hardware.drivers.panel import GpioPanel
from hardware.drivers.panels import Panels
from hardware.drivers.patient import Patient, PatientPanel
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.power_key import GpioPowerKey
from hardware.drivers.raw_lines import RawLines
from hardware.drivers.requests import POWER_OFF, Requests, unmounting
from hardware.drivers.screen_file import ScreenFile
from hardware.drivers.sound_card import PortAudioCard
from hardware.drivers.sound_devices import ByRule, Chooser, Named, device_pair
from hardware.drivers.stick import FolderStick
from hardware.drivers.take_spool import Spool
from hardware.live_loop import SWITCH_SECONDS, LiveLoop
from hardware.own_parts import held_at_start, run_at_start
from hardware.service.data_partition import CARD_LOST, card_notices
from hardware.service.heartbeat import Heartbeat
from hardware.service.notify import Notifier, notifier_from
from hardware.service.standby import stand_by
from hardware.service.state import RESTARTED, SETTINGS_BEFORE, StateKeeper, carried, own_folder, resumed
from hardware.switch_on import report, switch_on

MOUNT: Final = Path("/media/keelnote")
CARD: Final = Path("/var/lib/keelnote")
"""On the box's own card, on a partition that keeps what is written: takes wait there for a stick that is away, and
settings of a box that has none."""

LOOK_SECONDS: Final = 0.25
"""Between two looks for a stick, while the box began without one, and for the power key."""

OFF_SECONDS: Final = 10.0
"""How long the system may take to switch the power off."""


class ServedScreen(Screen, Protocol):
    """A screen with a thread of its own."""

    def start(self) -> None:
        """Begin to serve the panel."""

    def stop(self) -> None:
        """End."""


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
        keep_state: Callable[[KeepState | KeepSettings], None] = ...,
        light: Callable[[Lamp], object] = ...,
    ) -> LiveLoop:
        """The box, not yet started."""


class Waiting(Protocol):
    """Waits for the end of the box."""

    def __call__(self, early: Callable[[], bool]) -> None:
        """Return when the box shall end, or as soon as `early` is true."""


@dataclass(frozen=True, slots=True)
class Devices:
    """What a box runs on. Each keeps its contract whether the thing itself is there or not."""

    stick: Stick
    screen: ServedScreen
    panel: Panel
    card: Card
    spool: Spool | None = None
    keyboard: Keyboard | None = None
    light: Callable[[Lamp], object] = lambda _lamp: None
    """Has the status light say something."""
    date: Callable[[], str] = str
    """Today, empty while it is not known."""
    state: StateKeeper | None = None
    notifier: Notifier = field(default_factory=Notifier)
    facts: Callable[[], Iterable[str]] = tuple
    """Lines for report.txt about what this box is made of."""
    notices: tuple[str, ...] = ()
    """Lines in `firmware.messages` that are shown first: how the box's card is."""


def run_box(devices: Devices, make_box: MakeBox, wait: Waiting) -> int:
    """Run a box until `wait` returns; the number of events and blocks that were dropped.

    A box that began without a stick begins anew when one comes, because settings, plans and the number of the rehearsal
    are on it; the drone goes on. It does not begin anew once a take was begun, which waits for its stick.
    """
    state = devices.state or StateKeeper(None, devices.stick)
    dropped = 0
    before = state.before()
    start = resumed(_start(devices, state), before)
    start = replace(start, notices=(*devices.notices, *start.notices))
    report(devices.stick, tuple(map(sentence_of, (*devices.notices, *((RESTARTED,) if before else ())))))
    again = True
    while again:
        loop, again = _run_once(devices, make_box, wait, state, start)
        if again:
            # No heartbeat yet: the watchdog waits anew for each of the three steps, ending, reading and making.
            devices.notifier.alive()
            start = carried(_start(devices, state), state.last)
            devices.notifier.alive()
        dropped += loop.dropped
    state.forget()
    return dropped


def _start(devices: Devices, state: StateKeeper) -> Start:
    found = switch_on(devices.stick, devices.date())
    report(devices.stick, found.report)
    if found.start.stick:
        return found.start
    kept = state.settings()
    older = (SETTINGS_BEFORE,) if kept.before else ()
    return replace(found.start, values=kept.values or found.start.values, notices=(*found.start.notices, *older))


def _run_once(
    devices: Devices, make_box: MakeBox, wait: Waiting, state: StateKeeper, start: Start
) -> tuple[LiveLoop, bool]:
    """Run until `wait` returns; the loop, and whether that was because a stick came."""
    loop = make_box(
        devices.stick,
        devices.screen,
        start,
        devices.card,
        spool=devices.spool,
        keyboard=devices.keyboard,
        keep_state=state.keep,
        light=devices.light,
    )
    heartbeat = Heartbeat(devices.notifier, lambda: loop.progress, lambda: loop.card.status)
    early: list[bool] = []
    told = list(start.notices)

    def stick_came() -> bool:
        if state.card_refuses and CARD_LOST not in told:
            told.append(CARD_LOST)
            loop.post(Noticed(loop.now(), CARD_LOST))
        if not start.stick and not loop.takes and devices.stick.present:
            early.append(True)
        return bool(early)

    devices.card.choose(start.values.text("sound_card"))
    state.start()
    devices.screen.start()
    loop.start()
    heartbeat.start()
    try:
        devices.panel.start(loop.post, loop.now)
        report(devices.stick, (loop.card.status, *devices.facts()))
        wait(stick_came)
    finally:
        heartbeat.stop()
        devices.panel.stop()
        loop.stop()
        if not early:
            devices.screen.show(farewell())
        devices.screen.stop()
        state.stop()
    return loop, bool(early)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `keelnote box`."""
    parser.add_argument("--stick", type=Path, default=MOUNT, metavar="DIR", help=f"where the stick is ({MOUNT})")
    parser.add_argument("--card", type=Path, default=CARD, metavar="DIR", help=f"where what it keeps is kept ({CARD})")
    parser.add_argument("--device", metavar="IN,OUT", help="sound card by name or number; one for both, or two")
    parser.add_argument("--standby", action="store_true", help="keep a process that goes on at once after a crash")
    parser.add_argument("--screen-file", type=Path, metavar="FILE", help="show the screen in a file, not on the OLED")


def run(args: argparse.Namespace, make_box: MakeBox) -> int:
    """Run the box until it is told to stop: by SIGTERM, as the service manager sends it, Ctrl-C or its power key."""
    if args.standby and (code := stand_by(notifier_from())) is not None:
        return code
    # The watchdog's SIGABRT leaves the place of every thread in the journal.
    faulthandler.enable()
    told, held = threading.Event(), threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: told.set())
    sys.setswitchinterval(SWITCH_SECONDS)
    notifier, requests = notifier_from(), Requests()

    def until_told(early: Callable[[], bool]) -> None:
        # What was made until now stays; the collector need not look through it while sound is due.
        gc.collect()
        gc.freeze()
        # For the journal, and for whoever waits until the box answers.
        sys.stdout.write("Keelnote is running.\n")
        sys.stdout.flush()
        while not told.wait(LOOK_SECONDS) and not held.is_set() and not early():
            pass

    board, pins = own_board(), SharedPins()
    if held_at_start(RawLines(board, pins)):
        run_at_start(board, args.stick, notifier, told.is_set)
    led, key = GpioLed(board, pins), GpioPowerKey(board, pins)
    beside = (Patient(lambda: _lit(led), led.stop), Patient(lambda: key.start(held.set), key.stop))
    for part in beside:
        part.start()
    run_box(_own_devices(args, board, pins, led, requests, notifier), make_box, until_told)
    if held.is_set():
        _switch_off(requests, notifier, told)
    for part in beside:
        part.stop()
    notifier.stopping()
    return 0


def _lit(led: GpioLed) -> None:
    led.start()
    if led.trouble:
        raise DeviceError("status light", "its pin", led.trouble)


def _switch_off(requests: Requests, notifier: Notifier, told: threading.Event) -> None:
    """Ask for the power to be switched off, and wait for the end that follows from it."""
    with contextlib.suppress(DeviceError):
        requests.ask(POWER_OFF)
        for _ in range(round(OFF_SECONDS / LOOK_SECONDS)):
            notifier.alive()  # nothing sounds any more, and this is as it should be
            if told.wait(LOOK_SECONDS):
                return


def _own_devices(
    args: argparse.Namespace, board: Board, pins: SharedPins, led: GpioLed, requests: Requests, notifier: Notifier
) -> Devices:
    stick = FolderStick(args.stick / "KEELNOTE", mounted=True, unmount=unmounting(args.stick, requests))
    inputs = InputPanel()
    own_panel = PatientPanel(
        GpioPanel(board, pins, knob_elsewhere=lambda: inputs.has_knob), lambda error: report(stick, (error.text,))
    )
    chooser: Chooser = Named(*device_pair(args.device)) if args.device else ByRule()
    card = PortAudioCard(chooser, realtime=True)
    state = StateKeeper(own_folder(), stick, FolderStick(args.card / "kept"))

    def facts() -> tuple[str, ...]:
        plugged_in = ", ".join(inputs.names)
        named = (
            *(("Pins", pins.library), ("Plugged in", plugged_in)),
            *(("Sound thread", card.scheduling), ("State", state.error)),
        )
        return tuple(f"{name}: {value}" for name, value in named if value)

    return Devices(
        stick,
        OledScreen(lambda: ScreenFile(args.screen_file) if args.screen_file else open_oled(board.screen, pins)),
        Panels(inputs, own_panel),
        card,
        spool=Spool(args.card / "spool"),
        keyboard=MidiKeyboards(),
        light=led.show,
        date=known_date,
        state=state,
        notifier=notifier,
        facts=facts,
        notices=card_notices(),
    )
