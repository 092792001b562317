"""A bouncing contact as a value: no clock, no thread, no pin.

A mechanical contact opens and closes many times within a few milliseconds of a press. A change counts once the contact
has kept still for its settling time, and is then dated back to the first edge, so that a tapped tempo does not wobble
with the bounce. A shorter spike (a pedal lead near a dimmer) leaves no trace.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Contact:
    """One contact.

    Parameters
    ----------
    settle : float
        Seconds that it must keep still.
    closed : bool
        What it was when it last kept still.
    raw : bool
        What it is at this moment.
    edge : float or None
        Time of its latest edge in seconds; None when nothing is pending.
    first : int
        Sample count of the first edge since it last kept still.
    """

    settle: float
    closed: bool = False
    raw: bool = False
    edge: float | None = None
    first: int = 0

    @property
    def due(self) -> float | None:
        """When to ask `settled` next, in seconds; None when nothing is pending."""
        return None if self.edge is None else self.edge + self.settle


@dataclass(frozen=True, slots=True)
class Change:
    """A contact closed or opened, first at sample `at`."""

    closed: bool
    at: int


def edge(contact: Contact, *, closed: bool, time: float, at: int) -> Contact:
    """The contact after an edge, at `time` seconds and sample `at`."""
    first = at if contact.edge is None else contact.first
    return replace(contact, raw=closed, edge=time, first=first)


def settled(contact: Contact, time: float) -> tuple[Contact, Change | None]:
    """The contact at `time` seconds, and the change that has become certain by then."""
    if contact.due is None or time < contact.due:
        return contact, None
    calm = replace(contact, closed=contact.raw, edge=None)
    return calm, Change(contact.raw, contact.first) if contact.raw != contact.closed else None
