"""Everything the Box can ask of the drivers, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.lamp import Lamp
from firmware.music.harmony import Harmony
from firmware.passage import Passage
from firmware.screens.frame import Frame
from firmware.settings import Values
from firmware.sound.snapshot import Sound


@dataclass(frozen=True, slots=True)
class Command:
    """Base of all commands."""


@dataclass(frozen=True, slots=True)
class Play(Command):
    """Let the engine sound like this from its next block on."""

    sound: Sound


@dataclass(frozen=True, slots=True)
class Show(Command):
    """Put this picture on the OLED."""

    frame: Frame


@dataclass(frozen=True, slots=True)
class Dim(Command):
    """Set the brightness of the OLED, 1 to 5."""

    step: int


@dataclass(frozen=True, slots=True)
class Light(Command):
    """Let the status light say this."""

    lamp: Lamp


@dataclass(frozen=True, slots=True)
class Listen(Command):
    """Switch the ear on or off."""

    on: bool


@dataclass(frozen=True, slots=True)
class Attend(Command):
    """Read held chords by this harmony, or none; `told` if the chord that sounds is the harmony's own."""

    harmony: Harmony | None
    told: bool = False


@dataclass(frozen=True, slots=True)
class MicGain(Command):
    """Amplify the microphone by this, in dB, before the ear, the level and the takes get it."""

    gain_db: float


@dataclass(frozen=True, slots=True)
class CheckRoom(Command):
    """Learn the room from samples `first` to before `end`, in which the box plays its test signal."""

    first: int
    end: int


@dataclass(frozen=True, slots=True)
class OpenTake(Command):
    """Write the microphone to `path` (relative to the stick's KEELNOTE folder) from sample `first` on.

    With 2 channels the box's own sound is beside it. A file ends after `part_samples`, and the next part goes on; 0
    leaves that to what a stick can hold in one file (`firmware.takes.parts`).
    """

    number: int
    path: str
    first: int
    channels: int = 1
    part_samples: int = 0


@dataclass(frozen=True, slots=True)
class CloseTake(Command):
    """End the take with sample `end`, the first that is not in it."""

    number: int
    end: int


@dataclass(frozen=True, slots=True)
class WriteText(Command):
    """Replace a small file on the stick, safely."""

    path: str
    text: str


@dataclass(frozen=True, slots=True)
class DeleteTakes(Command):
    """Delete the sound and the chapters of take `number` in `folder`, or without a folder of all takes on the stick."""

    folder: str = ""
    number: int = 0


@dataclass(frozen=True, slots=True)
class ReleaseStick(Command):
    """Write what waits, then let the stick go, so that it can be pulled; StickChanged tells when it may be."""


@dataclass(frozen=True, slots=True)
class AppendLine(Command):
    """Add one line to a file on the stick."""

    path: str
    line: str


@dataclass(frozen=True, slots=True)
class OpenReplay(Command):
    """Feed the engine a passage of the take at `path`; `token` is the snapshot's replay."""

    path: str
    token: int
    passage: Passage


@dataclass(frozen=True, slots=True)
class CloseReplay(Command):
    """Stop feeding the replay."""


@dataclass(frozen=True, slots=True)
class HearReplay(Command):
    """Let the ear listen to the replay instead of the microphone, or to the microphone again."""

    on: bool


@dataclass(frozen=True, slots=True)
class ReadPlan(Command):
    """Read the plan or score at `path` on the stick, its notes named as `names` has them if it says nothing else.

    PlanRead tells what came of it.
    """

    path: str
    names: str = "english"


@dataclass(frozen=True, slots=True)
class LookAtStick(Command):
    """Find the plans and own tunings on the stick; StickListed tells of them."""


@dataclass(frozen=True, slots=True)
class SendMidi(Command):
    """Send a MIDI message to the instruments that are plugged in."""

    message: bytes


@dataclass(frozen=True, slots=True)
class ChooseCard(Command):
    """Prefer a kind of sound card, "auto" for the best by rule."""

    kind: str


@dataclass(frozen=True, slots=True)
class KeepState(Command):
    """Keep what the box is now, for the case that its process ends: all settings, and whether the drone sounds."""

    values: Values
    sounding: bool


@dataclass(frozen=True, slots=True)
class KeepSettings(Command):
    """Save the settings file (text as it shall stand)."""

    text: str
