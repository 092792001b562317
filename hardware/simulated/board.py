"""The wiring of a box as a model: contacts, wires, pull-ups, and what a builder may have done to them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from firmware.selftest.bench import Bench
from firmware.selftest.signals import Probe


@dataclass(slots=True)
class Wiring:
    """What goes where; a fault changes it. Made right for a bench by `wired`.

    Parameters
    ----------
    pin_of : dict of str to str or None
        For each contact the line that it is wired to, None if its wire is off.
    grounded : set of str
        Contacts whose other wire goes to ground.
    pulled_up : set of str
        Lines with a pull-up of their own.
    to_ground, to_supply : set of str
        Lines that touch ground or 3.3 V.
    bridges : set of frozenset of str
        Lines that are joined.
    closed_up : set of str
        Contacts that are closed while nobody presses them, and open when pressed: normally closed pedals.
    jammed : set of str
        Contacts that are always closed.
    """

    pin_of: dict[str, str | None]
    grounded: set[str]
    pulled_up: set[str]
    to_ground: set[str] = field(default_factory=set)
    to_supply: set[str] = field(default_factory=set)
    bridges: set[frozenset[str]] = field(default_factory=set)
    closed_up: set[str] = field(default_factory=set)
    jammed: set[str] = field(default_factory=set)

    def swap(self, one: str, other: str) -> None:
        """Exchange the wires of two contacts."""
        self.pin_of[one], self.pin_of[other] = self.pin_of[other], self.pin_of[one]

    def cut(self, contact: str) -> None:
        """Take a contact's wire off."""
        self.pin_of[contact] = None


def wired(bench: Bench) -> Wiring:
    """A box without a fault."""
    names = [line.name for line in bench.lines]
    return Wiring({name: name for name in names}, set(names), {line.name for line in bench.lines if line.outside})


class SimulatedLines:
    """The lines of a box: contacts are pressed, levels are read.

    Parameters
    ----------
    bench : Bench
        Which lines there are.
    wiring : Wiring
        How they are wired.
    """

    def __init__(self, bench: Bench, wiring: Wiring) -> None:
        self._names = [line.name for line in bench.lines]
        self.wiring = wiring
        self._pressed: set[str] = set()

    def press(self, contact: str, *, down: bool) -> None:
        """Press a contact, or let it go; may bounce as often as it likes."""
        if down:
            self._pressed.add(contact)
        else:
            self._pressed.discard(contact)

    def closed(self) -> frozenset[str]:
        """Lines that read low with the processor's pull-up."""
        return frozenset(name for name in self._names if not self.high(name, pulled_up=True))

    def probes(self) -> tuple[Probe, ...]:
        """How every line reads with the processor's pull-up, then with its pull-down."""
        return tuple(
            Probe(name, self.high(name, pulled_up=True), self.high(name, pulled_up=False)) for name in self._names
        )

    def high(self, line: str, *, pulled_up: bool) -> bool:
        """Whether a line reads high. A short to ground wins over one to 3.3 V: supplies are weaker than solder."""
        joined = self._joined(line)
        wiring = self.wiring
        low = any(wiring.pin_of[name] in joined and name in wiring.grounded for name in self._closed_contacts())
        if low or joined & wiring.to_ground:
            return False
        return bool(joined & (wiring.to_supply | wiring.pulled_up)) or pulled_up

    def _closed_contacts(self) -> Iterable[str]:
        wiring = self.wiring
        for name in wiring.pin_of:
            if name in wiring.jammed or (name in self._pressed) != (name in wiring.closed_up):
                yield name

    def _joined(self, line: str) -> set[str]:
        """The line and all that bridges join it to."""
        joined, grew = {line}, True
        while grew:
            grew = False
            for pair in self.wiring.bridges:
                if pair & joined and not pair <= joined:
                    joined |= pair
                    grew = True
        return joined
