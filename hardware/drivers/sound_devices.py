"""Which sound card is used: the devices that the kernel knows, and the rule that puts them in order."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol

from firmware.errors import DeviceError

Device = int | str | None
"""As PortAudio takes it: a number, a part of a name, or None for the computer's default."""

KERNEL: Final = Path("/proc/asound")
"""Where ALSA lists its cards: /proc/asound/pcm and card*/usbid (kernel documentation, sound/designs/procfile)."""

AUTO: Final = "auto"

KINDS: Final = ("usb", "board", "built-in", "screen")
"""Kinds of cards, the best first: a USB interface before a converter on the header, that before the computer's own."""

NEVER_UNASKED: Final = "screen"
"""The kind that is silent for a director: HDMI goes to a monitor, if there is one."""

WORDS: Final = (
    ("hdmi", "screen"),
    ("displayport", "screen"),
    ("monitor", "screen"),
    ("bcm2835", "built-in"),
    ("headphones", "built-in"),
    ("hda-intel", "built-in"),
    ("hda intel", "built-in"),
)
"""What in the names of a card or its device says its kind; the first that fits. Any other is on the header."""


@dataclass(frozen=True, slots=True)
class SoundDevice:
    """One device that the kernel knows: its card's name and numbers, and which ways it goes."""

    name: str
    card: int
    number: int
    kind: str
    heard: bool
    played: bool

    @property
    def address(self) -> str:
        """How PortAudio's names of it end."""
        return f"(hw:{self.card},{self.number})"


@dataclass(frozen=True, slots=True)
class Choice:
    """Which devices are opened: for input and output, each as PortAudio takes it; without a microphone only one."""

    heard: Device
    played: Device
    microphone: bool = True

    @property
    def pair(self) -> tuple[Device, Device]:
        """Both, as PortAudio takes them."""
        return self.heard, self.played


class Chooser(Protocol):
    """Says which devices are to be tried."""

    def choices(self) -> tuple[Choice, ...]:
        """The choices, the best first; raises DeviceError when there is none."""


@dataclass(frozen=True, slots=True)
class Named:
    """Devices that were named; nothing but them will do."""

    heard: Device = None
    played: Device = None

    def choices(self) -> tuple[Choice, ...]:
        """The one choice."""
        return (Choice(self.heard, self.played),)


@dataclass(frozen=True, slots=True)
class ByRule:
    """The best card by `ranked`, or one of a kind that was asked for.

    Parameters
    ----------
    wanted
        A kind, or "auto".
    kernel
        Where ALSA lists its cards; a computer that has no such folder gets its default devices.
    """

    wanted: str = AUTO
    kernel: Path = KERNEL

    def choices(self) -> tuple[Choice, ...]:
        """Every choice, the best first; raises DeviceError when there is no card."""
        if not self.kernel.is_dir():
            return (Choice(None, None),)
        found = ranked(kernel_devices(self.kernel), self.wanted)
        if not found:
            raise DeviceError("sound card", self.wanted, "none is plugged in", "Plug in a sound card.")
        return found


def device_pair(text: str | None) -> tuple[Device, Device]:
    """Devices named as "both" or "input,output"; numbers are PortAudio's, nothing is the default."""

    def one(name: str) -> Device:
        name = name.strip()
        return int(name) if name.isdecimal() else name or None

    parts = (text or "").split(",", 1)
    return one(parts[0]), one(parts[-1])


def kernel_devices(folder: Path = KERNEL) -> tuple[SoundDevice, ...]:
    """The devices that can hear or play; MIDI keyboards are cards too, and have none."""
    found = []
    for line in _lines(folder / "pcm"):
        match = re.match(r"(\d+)-(\d+): (.*?) : (.*)", line)
        if match:
            card, number = int(match[1]), int(match[2])
            name = _card_name(folder, card)
            usb = (folder / f"card{card}" / "usbid").exists()
            kind = "usb" if usb else kind_of(f"{name} {match[3]} {match[4].split(' : ')[0]}")
            heard, played = "capture" in match[4], "playback" in match[4]
            found.append(SoundDevice(name, card, number, kind, heard, played))
    return tuple(found)


def kind_of(text: str) -> str:
    """The kind of a card that is not on USB, by its names."""
    return next((kind for word, kind in WORDS if word in text.lower()), "board")


def ranked(devices: Iterable[SoundDevice], wanted: str = AUTO) -> tuple[Choice, ...]:
    """Every way to hear and play with some devices, the best first.

    Input and output on one device come first, for their clocks are one; then two devices; then a loudspeaker alone. In
    each of the three a USB card comes before one on the header, that before the computer's own; equal kinds go by name,
    which does not depend on which was found first. A monitor's loudspeaker is used only when asked for. A kind that is
    wanted comes before all of this; the others follow it, for the case that it is not there or can't be opened.
    """

    def order(device: SoundDevice) -> tuple[bool, int, str, int, int]:
        return (device.kind != wanted, KINDS.index(device.kind), device.name, device.card, device.number)

    usable = sorted((device for device in devices if wanted == device.kind or device.kind != NEVER_UNASKED), key=order)
    playing = [device for device in usable if device.played]
    hearing = [device for device in usable if device.heard]
    rows = [(one, 0, Choice(one.address, one.address)) for one in playing if one.heard]
    rows += [(one, 1, Choice(ear.address, one.address)) for one in playing for ear in hearing if ear != one]
    rows += [(one, 2, Choice(None, one.address, microphone=False)) for one in playing]
    return tuple(choice for _, _, choice in sorted(rows, key=lambda row: (row[0].kind != wanted, row[1])))


def with_numbers(choice: Choice, listed: Iterable[Any]) -> Choice:
    """A choice with the kernel's addresses replaced by PortAudio's numbers, from its own list of devices.

    Raises
    ------
    DeviceError
        If PortAudio does not list one of them, because somebody else has it open.
    """
    names = [str(entry["name"]) for entry in listed]

    def number(device: Device) -> Device:
        if not isinstance(device, str) or not device.startswith("(hw:"):
            return device
        for at, name in enumerate(names):
            if name.endswith(device):
                return at
        raise DeviceError("sound card", device, "PortAudio does not list it", "Another program may use it; end that.")

    return Choice(number(choice.heard), number(choice.played), choice.microphone)


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return []


def _card_name(folder: Path, card: int) -> str:
    for line in _lines(folder / "cards"):
        match = re.match(rf"\s*{card} \[[^]]*\]: (.*)", line)
        if match:
            return match[1].strip()
    return ""
