"""What builders get wrong, each with what the self-test must say of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final

from firmware.errors import UnknownNameError
from hardware.simulated.faulty_box import FaultyBox

Change = Callable[[FaultyBox], object]
Words = dict[str, str]

KEYBOARD: Final = "Little keys MIDI 1"


@dataclass(frozen=True, slots=True)
class BoardFault:
    """One fault.

    Parameters
    ----------
    name : str
        Its name on the command line.
    change : function
        Makes a good box a faulty one.
    code : str
        The finding that must come of it.
    values : mapping
        What that finding must name, as far as it matters.
    touches : frozenset of str
        What it concerns; two faults that concern the same thing may hide each other.
    """

    name: str
    change: Change
    code: str
    values: Words
    touches: frozenset[str]


def _fault(name: str, change: Change, code: str, touches: Iterable[str], **values: str) -> BoardFault:
    return BoardFault(name, change, code, values, frozenset(touches))


def _set(**values: object) -> Change:
    def change(box: FaultyBox) -> None:
        for name, value in values.items():
            setattr(box, name, value)

    return change


def _sound(**values: object) -> Change:
    def change(box: FaultyBox) -> None:
        box.sound = replace(box.sound, **values)  # type: ignore[arg-type]  # one function for every field of SoundPath

    return change


def _manners(contact: str, **values: object) -> Change:
    def change(box: FaultyBox) -> None:
        for name, value in values.items():
            setattr(box.manners[contact], name, value)

    return change


def _keyboard(does: str, code: str, **values: str) -> BoardFault:
    change = _set(keyboard=KEYBOARD, keyboard_does=does)
    return _fault(f"keyboard-{does}", change, code, ("keyboard",), **values)


def _ring(box: FaultyBox) -> None:
    box.wiring.swap("key Drone", "key Compare")
    box.wiring.swap("key Drone", "key Take")


def _misplaced(box: FaultyBox) -> None:
    box.wiring.pin_of["key Take"] = "key Replay"


def _no_pull_up_closed(box: FaultyBox) -> None:
    box.wiring.pulled_up.discard("right pedal")
    box.wiring.closed_up.add("right pedal")


def _joined(one: str, other: str) -> Change:
    return lambda box: box.wiring.bridges.add(frozenset({one, other}))


KEY: Final = "key {}".format
LEFT, RIGHT = "left pedal", "right pedal"
A, B = "knob a", "knob b"

_CONTACTS: Final = (
    _fault(
        "keys-swapped",
        lambda box: box.wiring.swap(KEY("Pulse"), KEY("Ear")),
        "swapped",
        (KEY("Pulse"), KEY("Ear")),
        first="Pulse",
        second="Ear",
    ),
    _fault(
        "key-and-push-swapped",
        lambda box: box.wiring.swap(KEY("Replay"), "knob push"),
        "swapped",
        (KEY("Replay"), "knob push"),
        first="Replay",
        second="knob push",
    ),
    _fault(
        "key-and-pedal-swapped",
        lambda box: box.wiring.swap(KEY("Ear"), RIGHT),
        "swapped",
        (KEY("Ear"), RIGHT),
        first="Ear",
        second="right pedal",
    ),
    _fault(
        "three-keys-mixed",
        _ring,
        "mixed",
        (KEY("Drone"), KEY("Compare"), KEY("Take")),
        contacts="Drone, Compare, Take",
    ),
    _fault(
        "pedals-swapped",
        lambda box: box.wiring.swap(LEFT, RIGHT),
        "swapped",
        (LEFT, RIGHT),
        first="left pedal",
        second="right pedal",
    ),
    _fault(
        "key-on-another-pin",
        _misplaced,
        "misplaced",
        (KEY("Take"), KEY("Replay")),
        first="Take",
        second="Replay",
    ),
    _fault(
        "keys-joined",
        _joined(KEY("Drone"), KEY("Compare")),
        "joined",
        (KEY("Drone"), KEY("Compare")),
        first="Drone",
        second="Compare",
    ),
    _fault(
        "key-and-pedal-joined",
        _joined(KEY("Take"), LEFT),
        "joined",
        (KEY("Take"), LEFT),
        first="Take",
        second="left pedal",
    ),
    _fault("key-wire-off", lambda box: box.wiring.cut(KEY("Compare")), "silent", (KEY("Compare"),), contact="Compare"),
    _fault(
        "key-ground-off",
        lambda box: box.wiring.grounded.discard(KEY("Ear")),
        "silent",
        (KEY("Ear"),),
        contact="Ear",
    ),
    _fault(
        "key-to-ground",
        lambda box: box.wiring.to_ground.add(KEY("Pulse")),
        "stuck",
        (KEY("Pulse"),),
        contact="Pulse",
    ),
    _fault("key-jammed", lambda box: box.wiring.jammed.add(KEY("Replay")), "stuck", (KEY("Replay"),), contact="Replay"),
    _fault("key-to-3v3", lambda box: box.wiring.to_supply.add(KEY("Drone")), "tied", (KEY("Drone"),), contact="Drone"),
    _fault("key-bounces", _manners(KEY("Take"), bounce_ms=14.0), "bounces", (KEY("Take"),), contact="Take"),
    _fault("key-cold-joint", _manners(KEY("Compare"), lets_go=True), "lets-go", (KEY("Compare"),), contact="Compare"),
    _fault("key-sticks", _manners(KEY("Ear"), sticks=True), "sticks", (KEY("Ear"),), contact="Ear"),
    _fault("push-wire-off", lambda box: box.wiring.cut("knob push"), "silent", ("knob push",), contact="knob push"),
    _fault("power-wire-off", lambda box: box.wiring.cut("power key"), "silent", ("power key",), contact="power key"),
    _fault("pedal-dead", lambda box: box.wiring.cut(RIGHT), "silent", (RIGHT,), contact="right pedal"),
    _fault("pedal-to-ground", lambda box: box.wiring.to_ground.add(LEFT), "stuck", (LEFT,), contact="left pedal"),
    _fault("no-pull-up", lambda box: box.wiring.pulled_up.discard(LEFT), "no-pull-up", (LEFT,), pedal="left pedal"),
    _fault("no-pull-up-closed-pedal", _no_pull_up_closed, "no-pull-up", (RIGHT,), pedal="right pedal"),
    _fault("pedal-noise", lambda box: box.noisy.add(LEFT), "noisy", (LEFT,), contact="left pedal"),
)

_KNOB: Final = (
    _fault("knob-backwards", lambda box: box.wiring.swap(A, B), "knob-backwards", (A, B)),
    _fault("knob-a-open", lambda box: box.wiring.cut(A), "knob-track", (A, B), track="A"),
    _fault("knob-b-open", lambda box: box.wiring.cut(B), "knob-track", (A, B), track="B"),
    _fault("knob-c-open", lambda box: box.wiring.grounded.difference_update({A, B}), "knob-silent", (A, B)),
    _fault("knob-a-to-ground", lambda box: box.wiring.to_ground.add(A), "stuck", (A, B), contact="track A"),
    _fault("knob-tracks-joined", _joined(A, B), "joined", (A, B), first="track A", second="track B"),
    _fault(
        "knob-and-key-swapped",
        lambda box: box.wiring.swap(B, KEY("Drone")),
        "swapped",
        (A, B, KEY("Drone")),
        first="Drone",
        second="track B",
    ),
    _fault("knob-half-cycle", _set(quarters=2), "knob-half", (A, B)),
    _fault("knob-two-cycles", _set(quarters=8), "knob-double", (A, B)),
    _fault("knob-loses-clicks", _set(loses_each=3), "knob-loses", (A, B)),
    _fault("knob-worn", _set(chatter=5), "knob-chatters", (A, B)),
)

_REST: Final = (
    _fault("screen-missing", _set(addresses=(0x68,)), "screen-silent", ("screen",)),
    _fault("sda-scl-swapped", _set(addresses=()), "bus-silent", ("screen", "clock")),
    _fault("screen-other-address", _set(addresses=(0x3D, 0x68)), "screen-address", ("screen",), address="0x3D"),
    _fault("screen-other-chip", _set(glass="shifted"), "screen-chip", ("screen",), other="sh1106"),
    _fault("screen-upside-down", _set(glass="flipped"), "screen-upside-down", ("screen",)),
    _fault("screen-dark", _set(glass="dark"), "screen-dark", ("screen",)),
    _fault("screen-line-dead", _set(glass="dots"), "screen-dots", ("screen",)),
    _fault("i2c-at-10-khz", _set(bus_hz=10_000.0), "bus-slow", ("screen",), khz="10"),
    _fault("i2c-at-100-khz", _set(bus_hz=100_000.0), "bus-slow", ("screen",), khz="100"),
    _fault("i2c-off", _set(bus_error="/dev/i2c-1 is not there"), "bus-off", ("screen", "clock")),
    _fault("sda-to-ground", _set(addresses=tuple(range(0x08, 0x78))), "bus-shorted", ("screen", "clock")),
    _fault("led-reversed", _set(led=2), "led-dark", ("led",)),
    _fault("led-to-3v3", _set(led=3), "led-lit", ("led",)),
    _fault("led-to-supply-side", _set(led=4), "led-inverted", ("led",)),
    _fault("stick-missing", _set(stick_trouble="stick-out"), "stick-out", ("stick",)),
    _fault("stick-unknown", _set(stick_trouble="stick-unknown"), "stick-unknown", ("stick",)),
    _fault("stick-locked", _set(stick_trouble="stick-read-only"), "stick-read-only", ("stick",)),
    _fault("stick-full", _set(stick_free=20_000_000), "stick-full", ("stick",)),
    _fault("stick-slow", _set(stick_speed=250_000.0), "stick-slow", ("stick",), speed="0.25"),
    _fault("stick-stalls", _set(stick_stall=9.0), "stick-stalls", ("stick",)),
    _fault("supply-weak", _set(low_now=True, low_before=True), "supply-low", ("supply",)),
    _fault("supply-was-weak", _set(low_before=True), "supply-was-low", ("supply",)),
    _fault("hot", _set(celsius=83.0), "hot", ("heat",), celsius="83"),
    _fault("clock-missing", _set(clock_there=False), "clock-absent", ("clock",)),
    _fault("clock-stands", _set(clock_runs=False), "clock-stopped", ("clock",)),
    _keyboard("silent", "keyboard-silent", keyboard=KEYBOARD),
    _keyboard("holds", "keyboard-holds", note="60"),
    _keyboard("goes", "keyboard-gone", keyboard=KEYBOARD),
    _keyboard("refuses", "keyboard-refused", keyboard=KEYBOARD),
)

_SOUND: Final = tuple(
    _fault(name, _sound(**change), code, ("sound",), **values)
    for name, change, code, values in (
        ("card-missing", {"card": "none is plugged in"}, "no-sound-card", {}),
        ("loudspeaker-missing", {"speaker": False}, "output-silent", {}),
        ("mic-muted", {"mic": "zero"}, "mic-zero", {}),
        ("mic-dead", {"mic": "dead"}, "mic-deaf", {}),
        ("mic-quiet", {"gain_db": -20.0}, "mic-quiet", {"db": "20"}),
        ("mic-loud", {"gain_db": 15.0}, "mic-loud", {"db": "15"}),
        ("mic-clips", {"gain_db": 36.0, "noise_db": -92.0}, "mic-clips", {}),
        ("mic-own-gain", {"automatic": True}, "mic-rides", {}),
        ("mic-offset", {"offset": 0.1}, "mic-offset", {"percent": "10"}),
        ("mic-noise", {"noise_db": -38.0}, "noise", {}),
        ("hum-50", {"hum_hz": 50.0}, "hum", {"hz": "50"}),
        ("hum-60", {"hum_hz": 60.0}, "hum", {"hz": "60"}),
        ("loudspeaker-distorts", {"drive": 12.0}, "distorts", {}),
        ("sound-delayed", {"delay_ms": 320.0}, "delay", {"ms": "320"}),
        ("two-clocks", {"clock_ppm": 600.0}, "clocks", {}),
        ("mic-at-44100", {"mic_rate": 44_100.0}, "rates", {"khz": "44.1"}),
        ("mic-at-32000", {"mic_rate": 32_000.0}, "rates", {"khz": "32"}),
        ("blocks-lost", {"lost": 12}, "sound-late", {"count": "12"}),
    )
)

FAULTS: Final[tuple[BoardFault, ...]] = (*_CONTACTS, *_KNOB, *_REST, *_SOUND)


def fault_named(name: str) -> BoardFault:
    """A fault by its name; raises UnknownNameError."""
    for fault in FAULTS:
        if fault.name == name:
            return fault
    raise UnknownNameError("fault", name, (fault.name for fault in FAULTS))
