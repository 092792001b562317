"""Carries out the Box's commands: one table from command type to what does it, used by every loop."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, Protocol

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
from firmware.passage import Passage
from firmware.ports import Screen
from firmware.sound.snapshot import Sound


class Player(Protocol):
    """What Play needs of the engine."""

    sound: Sound


class TakeRecorder(Protocol):
    """What OpenTake and CloseTake need of the recorder."""

    def start(self, number: int, first: int, channels: int = 1) -> None:
        """Cut a take from sample `first` on; the second channel is the box's own sound."""

    def stop(self, end: int) -> None:
        """End it before sample `end`."""


class Disk(Protocol):
    """Whatever writes to the stick; never waits."""

    def submit(self, job: Command) -> object:
        """Queue a command for the stick."""


class Replay(Protocol):
    """Whatever feeds a take back to the engine; never waits."""

    def open(self, path: str, token: int, passage: Passage) -> None:
        """Begin to feed a passage of the take at `path`."""

    def close(self) -> None:
        """Stop feeding."""


class Dispatcher:
    """Hands each command to the part that does it.

    Parameters
    ----------
    engine
        Takes the sound snapshot.
    recorder
        Cuts takes out of the microphone.
    disk
        Writes the stick; text, lines, settings and take files go there in the order of the commands.
    replay
        Feeds takes to the engine.
    screen
        Shows pictures.
    listen
        Switches the ear on or off.
    amplify
        Sets the gain of the microphone in dB.
    attend
        Says by which harmony held chords are read.
    send_midi
        Sends a message to the instruments that are plugged in; None where there can be none.
    check_room
        Has the room learned from a stretch of samples, first and end.
    hear_replay
        Lets the ear listen to the replay instead of the microphone.
    read_plan
        Reads a plan or score from the stick, by its path.
    look_at_stick
        Finds the plans and own tunings on a stick that was put in.
    keep_state
        Keeps what the box is on the box itself.
    light
        Lets the status light say something.
    choose_card
        Has a kind of sound card preferred.
    """

    def __init__(
        self,
        *,
        engine: Player,
        recorder: TakeRecorder,
        disk: Disk,
        replay: Replay,
        screen: Screen,
        listen: Callable[[bool], None],
        amplify: Callable[[float], None],
        attend: Callable[[Harmony | None, bool], None] = lambda _harmony, _told: None,
        check_room: Callable[[int, int], object] = lambda _first, _end: None,
        send_midi: Callable[[bytes], object] | None = None,
        hear_replay: Callable[[bool], None] = lambda _on: None,
        read_plan: Callable[[str, str], None] = lambda _path, _names: None,
        look_at_stick: Callable[[], None] = lambda: None,
        keep_state: Callable[[KeepState | KeepSettings], None] = lambda _command: None,
        light: Callable[[Lamp], object] = lambda _lamp: None,
        choose_card: Callable[[str], object] = lambda _kind: None,
    ) -> None:
        self._engine = engine
        self._recorder = recorder
        self._disk = disk
        self._replay = replay
        self._screen = screen
        self._keep_state = keep_state
        self.takes = 0
        """Takes that were begun."""
        self._listen = listen
        self._amplify = amplify
        self.table: dict[type[Command], Callable[[Any], object]] = {
            Play: self._play,
            Show: lambda command: self._screen.show(command.frame),
            Dim: lambda command: self._screen.dim(command.step),
            Light: lambda command: light(command.lamp),
            Listen: lambda command: self._listen(command.on),
            Attend: lambda command: attend(command.harmony, command.told),
            MicGain: lambda command: self._amplify(command.gain_db),
            SendMidi: lambda command: send_midi(command.message) if send_midi else None,
            CheckRoom: lambda command: check_room(command.first, command.end),
            OpenTake: self._open_take,
            CloseTake: self._close_take,
            OpenReplay: lambda command: self._replay.open(command.path, command.token, command.passage),
            CloseReplay: lambda _: self._replay.close(),
            HearReplay: lambda command: hear_replay(command.on),
            WriteText: self._disk.submit,
            AppendLine: self._disk.submit,
            DeleteTakes: self._disk.submit,
            KeepSettings: self._keep_settings,
            KeepState: keep_state,
            ChooseCard: lambda command: choose_card(command.kind),
            ReleaseStick: self._disk.submit,
            LookAtStick: lambda _command: look_at_stick(),
            ReadPlan: lambda command: read_plan(command.path, command.names),
        }

    def do(self, command: Command) -> None:
        """Carry out one command.

        Raises
        ------
        UnknownNameError
            If no part is registered for this type of command.
        """
        action = self.table.get(type(command))
        if action is None:
            raise UnknownNameError("command", type(command).__name__, (kind.__name__ for kind in self.table))
        action(command)

    def do_all(self, commands: Iterable[Command]) -> None:
        """Carry out commands in their order."""
        for command in commands:
            self.do(command)

    def _keep_settings(self, command: KeepSettings) -> None:
        self._disk.submit(command)
        self._keep_state(command)

    def _play(self, command: Play) -> None:
        self._engine.sound = command.sound

    def _open_take(self, command: OpenTake) -> None:
        # The file must be queued before the recorder can queue its first chunk.
        self.takes += 1
        self._disk.submit(command)
        self._recorder.start(command.number, command.first, command.channels)

    def _close_take(self, command: CloseTake) -> None:
        # The file is closed by the recorder's last chunk, not here: chunks before `end` may still be on their way.
        self._recorder.stop(command.end)
