"""The entry on a computer: the console script `keelnote`, and the one place where a box is put together for it."""

from __future__ import annotations

import argparse
import os
import sys
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from firmware.box import Box
from firmware.commands import KeepSettings, KeepState
from firmware.errors import KeelnoteError
from firmware.events import Event, SwitchedOn
from firmware.hearing.level import LevelMeter
from firmware.hearing.onsets_gate import OnsetsWhile
from firmware.hearing.players import Answers, PlayersListener
from firmware.hearing.room import Room
from firmware.hearing.room_listener import RoomListener
from firmware.hearing.sound_watch import BATCH, SoundWatch
from firmware.lamp import Lamp
from firmware.parts.part import Start
from firmware.ports import Keyboard, Screen, Stick
from firmware.sound.engine import Engine
from firmware.takes.recorder import Chunk, Recorder
from firmware.units import Samples
from hardware import device
from hardware.card_keeper import Card, CardKeeper
from hardware.commands import align, desk, drone, hear, mend, plan, pulse, rehearse, selftest, sheet
from hardware.dispatch import Dispatcher
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.replay_reader import ReplayFeeder
from hardware.drivers.take_spool import Spool
from hardware.inbox import Inbox
from hardware.listener import Listener
from hardware.live_loop import LiveLoop
from hardware.loop import OfflineLoop
from hardware.own_parts import open_own_box
from hardware.plan_reader import PlanReader
from hardware.replay_ear import ReplayEar
from hardware.take_loudness import TakeLoudness

BAD_INPUT: Final = 2
INTERRUPTED: Final = 130
BROKEN_PIPE: Final = 141


@dataclass(frozen=True, slots=True)
class _Rig:
    """All that both loops need, put together."""

    box: Box
    engine: Engine
    listener: Listener
    dispatcher: Dispatcher
    disk: DiskThread
    replay: ReplayFeeder


def _rig(
    stick: Stick,
    screen: Screen,
    start: Start,
    post: Callable[[Event], object],
    spool: Spool | None = None,
    *,
    background: bool = False,
    keyboard: Keyboard | None = None,
    keep_state: Callable[[KeepState | KeepSettings], None] = lambda _command: None,
    light: Callable[[Lamp], object] = lambda _lamp: None,
    choose_card: Callable[[str], object] = lambda _kind: None,
) -> _Rig:
    def tell(event: Event) -> None:
        post(event)

    engine = Engine()
    recorder = Recorder()
    disk = DiskThread(stick, tell, lambda: engine.position, spool=spool)
    replay = ReplayFeeder(stick, engine, tell, lambda: engine.position)
    plans = PlanReader(stick, tell, lambda: engine.position, background=background)
    loudness = TakeLoudness()

    def submit(chunk: Chunk) -> None:
        disk.submit(chunk)
        measured = loudness.hear(chunk)
        if measured is not None:
            tell(measured)

    players = PlayersListener(answers=Answers(engine.answered.read, lambda: engine.sound.answer))
    onsets = OnsetsWhile(lambda: engine.sound.pulse.on, engine.latency, engine.clicked.read)

    def learned(room: Room) -> None:
        onsets.learn(room)
        players.learn(room)

    room_check = RoomListener(learned=learned)
    ear = ReplayEar(players, engine.replayed, PlayersListener)
    listener = Listener(
        ear,
        LevelMeter(),
        recorder,
        submit,
        tell,
        watch=SoundWatch(batch=BATCH),
        room_check=room_check,
        onsets=onsets,
    )
    dispatcher = Dispatcher(
        engine=engine,
        recorder=recorder,
        disk=disk,
        replay=replay,
        screen=screen,
        listen=listener.listen,
        amplify=listener.amplify,
        attend=ear.attend,
        check_room=room_check.check,
        hear_replay=ear.hear_replay,
        read_plan=plans.open,
        look_at_stick=plans.look,
        send_midi=keyboard.send if keyboard else None,
        keep_state=keep_state,
        light=light,
        choose_card=choose_card,
    )
    tell(SwitchedOn(0))
    return _Rig(Box(start), engine, listener, dispatcher, disk, replay)


def offline_box(stick: Stick, screen: Screen, start: Start) -> OfflineLoop:
    """Put together a box without threads, run block by block by the caller."""
    inbox: deque[Event] = deque()
    rig = _rig(stick, screen, start, inbox.append)
    return OfflineLoop(rig.box, rig.engine, rig.listener, rig.dispatcher, (rig.disk, rig.replay), inbox)


def live_box(
    stick: Stick,
    screen: Screen,
    start: Start,
    card: Card,
    microphone: Callable[[int], Samples] | None = None,
    spool: Spool | None = None,
    keyboard: Keyboard | None = None,
    keep_state: Callable[[KeepState | KeepSettings], None] = lambda _command: None,
    light: Callable[[Lamp], object] = lambda _lamp: None,
) -> LiveLoop:
    """Put together a box that runs in real time on a sound card; `microphone` takes the place of the card's own.

    Takes go to the `spool` while the stick is away; without one a minute of them is held in memory.
    """
    inbox = Inbox()
    rig = _rig(
        stick,
        screen,
        start,
        inbox.post,
        spool,
        background=True,
        keyboard=keyboard,
        keep_state=keep_state,
        light=light,
        choose_card=card.choose,
    )
    return LiveLoop(
        rig.box,
        rig.engine,
        rig.listener,
        rig.dispatcher,
        inbox,
        lambda changed: CardKeeper(card, changed),
        disk=rig.disk,
        replay=rig.replay,
        microphone=microphone,
        keyboard=keyboard,
    )


@dataclass(frozen=True, slots=True)
class _Entry:
    name: str
    help: str
    add_arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


COMMANDS: Final = (
    _Entry("rehearse", "run a whole rehearsal offline", rehearse.add_arguments, lambda a: rehearse.run(a, offline_box)),
    _Entry("desk", "run the box in this terminal", desk.add_arguments, lambda a: desk.run(a, live_box)),
    _Entry(
        "box",
        "run the box on its own panel, screen and sound card",
        device.add_arguments,
        lambda a: device.run(a, live_box),
    ),
    _Entry(
        "selftest",
        "find what is wrong in the wiring of a box",
        selftest.add_arguments,
        lambda a: selftest.run(a, open_own_box),
    ),
    _Entry("drone", "write a drone to a WAV file", drone.add_arguments, drone.run),
    _Entry("align", "tell how early or late the notes in a recording are", align.add_arguments, align.run),
    _Entry("hear", "name the pitches in a recording", hear.add_arguments, hear.run),
    _Entry("sheet", "write the sheet of a rehearsal anew", sheet.add_arguments, sheet.run),
    _Entry("plan", "check a plan, or make one of a score", plan.add_arguments, plan.run),
    _Entry("mend", "mend takes that were cut off, and say what is damaged", mend.add_arguments, mend.run),
    _Entry("pulse", "write a pulse to a WAV file and say when its beats fall", pulse.add_arguments, pulse.run),
)


def parser() -> argparse.ArgumentParser:
    """Make the parser of the command line from the table of commands."""
    top = argparse.ArgumentParser(prog="keelnote", description="The podium box for ensemble directors, on a computer.")
    commands: Any = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for entry in COMMANDS:
        sub = commands.add_parser(entry.name, help=entry.help, description=f"{entry.help[0].upper()}{entry.help[1:]}.")
        entry.add_arguments(sub)
        sub.set_defaults(run=entry.run)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 if all went well, 2 for input that can't be used."""
    args = parser().parse_args(argv)
    try:
        status: int = args.run(args)
    except KeelnoteError as error:
        print(f"keelnote: {error.text}", file=sys.stderr)  # noqa: T201 - a command line speaks to the terminal
        return BAD_INPUT
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output has gone, as `head` does; nothing may be flushed to it at the end either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return BROKEN_PIPE
    return status


if __name__ == "__main__":
    sys.exit(main())
