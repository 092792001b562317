"""What the keys of a USB number pad and of a slide presenter mean, and which input devices are ours: tables.

Codes are those of the kernel's input subsystem (linux/input-event-codes.h); a test compares them with evdev's names.
They name places on the keyboard, not what is printed for the moment: a 7 is a 7 whether Num Lock is on or off.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import Final

from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobUp, PanelKey, Pedal, PedalDown, PedalUp

EV_SYN: Final = 0
EV_KEY: Final = 1
EV_REL: Final = 2
SYN_REPORT: Final = 0
SYN_DROPPED: Final = 3
"""The kernel's queue ran over: what is down must be asked for anew."""

UP: Final = 0
DOWN: Final = 1
REPEAT: Final = 2

Make = Callable[[int], Event]


@dataclass(frozen=True, slots=True)
class Press:
    """A key that stands for a key, a pedal or the knob's push: what it posts when it goes down and comes up."""

    control: str
    down: Make
    up: Make


@dataclass(frozen=True, slots=True)
class Turn:
    """A key that turns the knob, once for each press and for each repetition while it is held."""

    control: str
    steps: int


def _key(key: PanelKey) -> Press:
    return Press(key.value, partial(KeyDown, key=key), partial(KeyUp, key=key))


def _pedal(pedal: Pedal) -> Press:
    return Press(f"{pedal} pedal", partial(PedalDown, pedal=pedal), partial(PedalUp, pedal=pedal))


@dataclass(frozen=True, slots=True)
class Stroke:
    """One key: its code, what is printed on it, and what it means."""

    code: int
    shown: str
    name: str
    """The kernel's name for it."""
    means: Press | Turn


NUMBER_PAD: Final = (
    Stroke(71, "7", "KEY_KP7", _key(PanelKey.DRONE)),
    Stroke(72, "8", "KEY_KP8", _key(PanelKey.COMPARE)),
    Stroke(73, "9", "KEY_KP9", _key(PanelKey.PULSE)),
    Stroke(75, "4", "KEY_KP4", _key(PanelKey.EAR)),
    Stroke(76, "5", "KEY_KP5", _key(PanelKey.TAKE)),
    Stroke(77, "6", "KEY_KP6", _key(PanelKey.REPLAY)),
    Stroke(78, "+", "KEY_KPPLUS", Turn("Knob", +1)),
    Stroke(74, "−", "KEY_KPMINUS", Turn("Knob", -1)),
    Stroke(96, "Enter", "KEY_KPENTER", Press("Knob", KnobDown, KnobUp)),
    Stroke(82, "0", "KEY_KP0", _pedal(Pedal.LEFT)),
    Stroke(83, ".", "KEY_KPDOT", _pedal(Pedal.RIGHT)),
)
"""The six keys lie as on the panel, in two rows of three; the pedals are the two lowest keys."""

PRESENTER: Final = (
    Stroke(109, "Page Down", "KEY_PAGEDOWN", _pedal(Pedal.RIGHT)),
    Stroke(104, "Page Up", "KEY_PAGEUP", _pedal(Pedal.LEFT)),
)
"""A presenter's forward and back: the next step of the plan, and the drone."""

STROKES: Final[Mapping[int, Stroke]] = MappingProxyType({stroke.code: stroke for stroke in NUMBER_PAD + PRESENTER})
"""All other keys do nothing."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of input device: what it must have to be ours, and whether its relative axis turns the knob."""

    name: str
    keys: frozenset[int]
    knob: bool = False


KINDS: Final = (
    Kind("number pad", frozenset(stroke.code for stroke in NUMBER_PAD)),
    Kind("presenter", frozenset(stroke.code for stroke in PRESENTER)),
    Kind("knob", frozenset(), knob=True),
)
"""In this order a device is tried; a whole computer keyboard is a number pad whose Page keys work, too."""

Has = Mapping[int, Sequence[int]]
"""What a device can do: for each type of event its codes, as evdev gives it."""


def kind_of(has: Has) -> Kind | None:
    """Which kind of ours a device is, None for a mouse, a power button or a sound card's jack.

    The kernel's driver for a rotary encoder has one relative axis and nothing else; a mouse has buttons and two.
    """
    keys, axes = _codes(has, EV_KEY), _codes(has, EV_REL)
    for kind in KINDS:
        if kind.knob:
            if len(axes) == 1 and not keys:
                return kind
        elif kind.keys <= keys:
            return kind
    return None


def _codes(has: Has, kind: int) -> frozenset[int]:
    found = has.get(kind, ())
    return (
        frozenset(code for code in found if isinstance(code, int)) if isinstance(found, list | tuple) else frozenset()
    )


def table() -> str:
    """The two tables in Markdown, for a person."""
    rows = [
        (device, stroke.shown, f"{stroke.means.control}{_turned(stroke.means)}")
        for device, strokes in (("number pad", NUMBER_PAD), ("presenter", PRESENTER))
        for stroke in strokes
    ]
    lines = [f"| {device} | {shown} | {means} |" for device, shown, means in rows]
    return "\n".join(["| device | its key | is |", "| --- | --- | --- |", *lines])


def _turned(means: Press | Turn) -> str:
    if isinstance(means, Turn):
        return ", one detent clockwise" if means.steps > 0 else ", one detent counter-clockwise"
    return ", pushed" if means.control == "Knob" else ""
