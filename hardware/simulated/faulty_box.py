"""A whole box as a builder left it: wiring, manners of its contacts, knob, and everything that is plugged in."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from firmware.screens.frame import HEIGHT, WIDTH, Frame
from firmware.selftest.bench import Bench
from hardware.simulated.board import Wiring, wired
from hardware.simulated.sound_path import SoundPath

FULL_CYCLE = 4
"""Quarter steps of the tracks from one click to the next, in the encoder that the box is made for."""


@dataclass(slots=True)
class Manners:
    """How one contact behaves: how long it bounces, whether it opens while held, whether it comes up again."""

    bounce_ms: float = 2.0
    lets_go: bool = False
    sticks: bool = False


@dataclass(slots=True)
class FaultyBox:
    """Everything that a fault may change; made right by `good_box`.

    Parameters
    ----------
    wiring : Wiring
        Of the contacts.
    manners : dict of str to Manners
        Of each contact.
    noisy : set of str
        Lines that pick up noise.
    quarters : int
        Quarter steps of the tracks for a click of the knob.
    loses_each : int
        Each so many clicks of the knob one is lost; 0 is none.
    chatter : int
        Further bounces of each track at each step.
    addresses : tuple of int
        Who answers on the I2C bus.
    bus_error : str
        Why there is no bus.
    bus_hz : float
        Its clock.
    glass : str
        What the screen makes of a picture: "right", "flipped", "shifted", "dark" or "dots".
    led : int
        What the LED looks like, as the number of the answer.
    stick_trouble : str
        What is wrong with the stick.
    stick_free : int
        Bytes left on it.
    stick_speed, stick_stall : float
        Bytes in a second, and seconds that it keeps still once.
    sound : SoundPath
        From loudspeaker to microphone.
    low_now, low_before, clock_there, clock_runs : bool
        Supply and clock chip.
    celsius : float
        Of the processor.
    keyboard : str
        Name of the MIDI keyboard that is plugged in; empty for none.
    keyboard_does : str
        What comes of a key of it: "plays", "silent", "holds", "goes", or "refuses" to be opened.
    """

    wiring: Wiring
    manners: dict[str, Manners]
    noisy: set[str] = field(default_factory=set)
    quarters: int = FULL_CYCLE
    loses_each: int = 0
    chatter: int = 0
    addresses: tuple[int, ...] = ()
    bus_error: str = ""
    bus_hz: float = 400_000.0
    glass: str = "right"
    led: int = 1
    stick_trouble: str = ""
    stick_free: int = 8_000_000_000
    stick_speed: float = 6e6
    stick_stall: float = 0.0
    sound: SoundPath = field(default_factory=SoundPath)
    low_now: bool = False
    low_before: bool = False
    clock_there: bool = True
    clock_runs: bool = True
    celsius: float = 52.0
    keyboard: str = ""
    keyboard_does: str = "plays"

    def seen(self, frame: Frame) -> Frame:
        """What a person sees on the glass when a picture is sent to it."""
        dots = np.unpackbits(np.frombuffer(frame.bits, dtype=np.uint8)).reshape(HEIGHT, WIDTH)
        if self.glass == "flipped":
            dots = dots[::-1, ::-1]
        elif self.glass == "shifted":
            dots = np.roll(dots, 2, axis=1)
            dots[:, :2] = np.random.default_rng(1106).integers(0, 2, (HEIGHT, 2))
        elif self.glass == "dark":
            dots = np.zeros_like(dots)
        elif self.glass == "dots":
            dots = dots.copy()
            dots[:, 40] = 0
        return Frame(np.packbits(dots).tobytes())


def good_box(bench: Bench) -> FaultyBox:
    """A box without a fault."""
    answering = tuple(address for address in (bench.screen, bench.clock) if address is not None)
    return FaultyBox(wired(bench), {line.name: Manners() for line in bench.lines}, addresses=answering)
