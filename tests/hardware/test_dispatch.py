"""Every command reaches the part that does it, in order."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from firmware import commands
from firmware.commands import (
    AppendLine,
    Attend,
    CheckRoom,
    ChooseCard,
    CloseReplay,
    CloseTake,
    Command,
    DeleteTakes,
    Dim,
    HearReplay,
    KeepSettings,
    KeepState,
    Light,
    Listen,
    LookAtStick,
    MicGain,
    OpenReplay,
    OpenTake,
    Play,
    ReadPlan,
    ReleaseStick,
    SendMidi,
    Show,
    WriteText,
)
from firmware.errors import UnknownNameError
from firmware.lamp import Lamp
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.passage import Passage
from firmware.screens.frame import Frame
from firmware.settings import DEFAULTS
from firmware.sound.snapshot import SILENCE, Sound
from hardware.dispatch import Dispatcher


class Parts:
    """All parts in one, writing down what they are asked."""

    def __init__(self) -> None:
        self.asked: list[tuple[object, ...]] = []
        self._sound = SILENCE

    @property
    def sound(self) -> Sound:
        return self._sound

    @sound.setter
    def sound(self, sound: Sound) -> None:
        self.asked.append(("play", sound))

    def start(self, number: int, first: int, channels: int = 1) -> None:
        self.asked.append(("start", number, first, channels))

    def stop(self, end: int) -> None:
        self.asked.append(("stop", end))

    def submit(self, job: Command) -> None:
        self.asked.append(("disk", job))

    def hear_replay(self, on: bool) -> None:  # noqa: FBT001 - one switch
        self.asked.append(("replay", on))

    def open(self, path: str, token: int, passage: Passage) -> None:
        self.asked.append(("open", path, token, passage))

    def close(self) -> None:
        self.asked.append(("close",))

    def look_at_stick(self) -> None:
        self.asked.append(("look",))

    def read_plan(self, path: str, names: str) -> None:
        self.asked.append(("plan", path, names))

    def choose(self, kind: str) -> None:
        self.asked.append(("choose", kind))

    def keep(self, command: Command) -> None:
        self.asked.append(("keep", command))

    def light(self, lamp: Lamp) -> None:
        self.asked.append(("light", lamp))

    def show(self, frame: Frame) -> None:
        self.asked.append(("show", frame))

    def dim(self, step: int) -> None:
        self.asked.append(("dim", step))

    def listen(self, on: bool) -> None:  # noqa: FBT001 - the signature the dispatcher calls
        self.asked.append(("listen", on))

    def attend(self, harmony: Harmony | None, told: bool) -> None:  # noqa: FBT001 - the signature the dispatcher calls
        self.asked.append(("attend", harmony, told))

    def amplify(self, gain_db: float) -> None:
        self.asked.append(("amplify", gain_db))

    def check(self, first: int, end: int) -> None:
        self.asked.append(("check", first, end))

    def send(self, message: bytes) -> None:
        self.asked.append(("send", message))


@pytest.fixture
def parts() -> Parts:
    return Parts()


@pytest.fixture
def dispatcher(parts: Parts) -> Dispatcher:
    listen: Callable[[bool], None] = parts.listen
    return Dispatcher(
        engine=parts,
        recorder=parts,
        disk=parts,
        replay=parts,
        screen=parts,
        listen=listen,
        amplify=parts.amplify,
        attend=parts.attend,
        check_room=parts.check,
        send_midi=parts.send,
        hear_replay=parts.hear_replay,
        read_plan=parts.read_plan,
        look_at_stick=parts.look_at_stick,
        light=parts.light,
        keep_state=parts.keep,
        choose_card=parts.choose,
    )


HARMONY = Harmony(key_of("D", "minor"))
PASSAGE = Passage(10, 0.5)
OPEN = OpenTake(3, "rehearsals/0001/take-03.flac", 480)
TEXT = WriteText("a", "b")
LINE = AppendLine("a", "b")
DELETE = DeleteTakes("rehearsals/0001", 3)
KEEP = KeepSettings("c")
STATE = KeepState(DEFAULTS, sounding=True)
RELEASE = ReleaseStick()

EXPECTED: tuple[tuple[Command, tuple[tuple[object, ...], ...]], ...] = (
    (Play(SILENCE), (("play", SILENCE),)),
    (Show(Frame()), (("show", Frame()),)),
    (Dim(2), (("dim", 2),)),
    (Listen(on=True), (("listen", True),)),
    (Attend(HARMONY, told=True), (("attend", HARMONY, True),)),
    (MicGain(6.0), (("amplify", 6.0),)),
    (ChooseCard("usb"), (("choose", "usb"),)),
    (CheckRoom(5, 9), (("check", 5, 9),)),
    (SendMidi(b"\xf7"), (("send", b"\xf7"),)),
    (OPEN, (("disk", OPEN), ("start", 3, 480, 1))),
    (CloseTake(3, 960), (("stop", 960),)),
    (TEXT, (("disk", TEXT),)),
    (LINE, (("disk", LINE),)),
    (DELETE, (("disk", DELETE),)),
    (RELEASE, (("disk", RELEASE),)),
    (Light(Lamp.READY), (("light", Lamp.READY),)),
    (OpenReplay("p", 2, PASSAGE), (("open", "p", 2, PASSAGE),)),
    (HearReplay(on=True), (("replay", True),)),
    (LookAtStick(), (("look",),)),
    (ReadPlan("p", "german"), (("plan", "p", "german"),)),
    (CloseReplay(), (("close",),)),
    (KEEP, (("disk", KEEP), ("keep", KEEP))),
    (STATE, (("keep", STATE),)),
)


@pytest.mark.parametrize(("command", "asked"), EXPECTED, ids=lambda value: type(value).__name__)
def test_a_command_reaches_its_part(
    dispatcher: Dispatcher, parts: Parts, command: Command, asked: tuple[tuple[object, ...], ...]
):
    dispatcher.do(command)
    assert tuple(parts.asked) == asked


def test_every_command_that_the_box_can_give_is_in_the_table(dispatcher: Dispatcher):
    kinds = {
        kind
        for kind in vars(commands).values()
        if isinstance(kind, type) and issubclass(kind, Command) and kind is not Command
    }
    assert set(dispatcher.table) == kinds
    assert {type(command) for command, _ in EXPECTED} == kinds


def test_commands_are_done_in_order(dispatcher: Dispatcher, parts: Parts):
    dispatcher.do_all([Listen(on=False), CloseReplay(), CloseTake(1, 5)])
    assert parts.asked == [("listen", False), ("close",), ("stop", 5)]


def test_an_unknown_command_is_named_with_what_there_is(dispatcher: Dispatcher):
    with pytest.raises(UnknownNameError, match=r"command 'Command' .* Play"):
        dispatcher.do(Command())
