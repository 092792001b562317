"""Every fault of contacts and knob that the self-test can name, and the table of all faults."""

from __future__ import annotations

from typing import Final

from firmware.selftest.kind import Kind
from firmware.selftest.kinds_of_parts import PARTS

_CONTACT: Final = (("contact", "right pedal"),)
_TWO: Final = (("first", "right pedal"), ("second", "power key"))

_CONTACTS: Final = (
    Kind(
        "stuck",
        "contacts",
        "{contact} is always closed",
        "{contact} is closed though nobody touches it.",
        "Look for a jammed contact, or for its wire at place {place} touching ground.",
        _CONTACT,
    ),
    Kind(
        "tied",
        "contacts",
        "{contact} touches 3.3 V",
        "The wire of {contact} at place {place} touches 3.3 V.",
        "Do not press it until that is mended. Unplug the supply and look for a bridge of solder.",
        _CONTACT,
    ),
    Kind(
        "noisy",
        "contacts",
        "{contact} picks up noise",
        "{contact} changes though nobody touches it.",
        "Look for a loose wire at place {place}; at a pedal also for the missing capacitor or resistor beside the pin.",
        _CONTACT,
    ),
    Kind(
        "silent",
        "contacts",
        "{contact} does nothing",
        "{contact} does nothing when it is pressed.",
        "Look at its wires to place {place} and to ground, and at the part itself; a pedal must be plugged in.",
        _CONTACT,
    ),
    Kind(
        "swapped",
        "contacts",
        "{first} and {second} are swapped",
        "{first} and {second} are swapped.",
        "Exchange their wires at places {places} of the header.",
        _TWO,
    ),
    Kind(
        "mixed",
        "contacts",
        "Mixed up: {contacts}",
        "These are mixed up: {contacts}.",
        "Compare their wires at places {places} with the pin table.",
        (("contacts", "Compare, Replay, Drone"),),
    ),
    Kind(
        "misplaced",
        "contacts",
        "{first} is on the pin of {second}",
        "{first} is heard on the pin of {second}.",
        "Move its wire to place {place}.",
        _TWO,
    ),
    Kind(
        "joined",
        "contacts",
        "{first} and {second} touch",
        "{first} and {second} close together.",
        "Look for a bridge of solder between places {places}, or between the two parts.",
        _TWO,
    ),
    Kind(
        "bounces",
        "contacts",
        "{contact} bounces for {ms} ms",
        "{contact} bounces for {ms} ms, longer than settle_ms in the board file allows.",
        "Take another part, or set settle_ms to more than that.",
        (*_CONTACT, ("ms", "888")),
    ),
    Kind(
        "lets-go",
        "contacts",
        "{contact} lets go while held",
        "{contact} opens for a moment while it is held.",
        "Solder both its ends anew: one of them is a cold joint, or the part is worn.",
        _CONTACT,
    ),
    Kind(
        "sticks",
        "contacts",
        "{contact} stays down",
        "{contact} stays closed after it was pressed.",
        "Look whether the lid holds it down, or take another part.",
        _CONTACT,
    ),
    Kind(
        "knob-silent",
        "knob",
        "The knob does nothing",
        "The knob does nothing when it is turned.",
        "Look at its middle leg C: it must go to ground.",
    ),
    Kind(
        "knob-track",
        "knob",
        "Knob track {track} does nothing",
        "Track {track} of the knob does nothing.",
        "Look at its wire to place {place}.",
        (("track", "A"),),
    ),
    Kind(
        "knob-backwards",
        "knob",
        "Knob turns backwards: swap A and B",
        "The knob turns backwards.",
        "Exchange the wires of A and B at places {places}, or their pins in the board file.",
    ),
    Kind(
        "knob-half",
        "knob",
        "Knob counts half its clicks",
        "The knob counts one step for two of its clicks: its clicks are half a cycle apart.",
        "Take an encoder with one whole cycle for each click.",
    ),
    Kind(
        "knob-double",
        "knob",
        "Knob counts clicks twice",
        "The knob counts two steps for each of its clicks.",
        "Take an encoder with one whole cycle for each click.",
    ),
    Kind(
        "knob-loses",
        "knob",
        "Knob loses clicks: {count} of {asked}",
        "The knob counted {count} steps for {asked} clicks.",
        "Turn click by click and run the test again; if it stays so, solder A, B and C anew or take another encoder.",
        (("count", "10"), ("asked", "10")),
    ),
    Kind(
        "knob-chatters",
        "knob",
        "Knob chatters",
        "The tracks of the knob chatter: {edges} edges for a click, where four are needed.",
        "Take another encoder; this one is worn, and will lose clicks soon.",
    ),
    Kind(
        "no-pull-up",
        "contacts",
        "No pull-up on {pedal} tip",
        "There is no pull-up on the tip of the {pedal}.",
        "Look at {part}, from place {place} to 3.3 V.",
        (("pedal", "right pedal"),),
    ),
    Kind(
        "unanswered",
        "contacts",
        "Not answered: {question}",
        "Nobody answered how the {question} looked or sounded.",
        "Run the test again and press the key that it names.",
        (("question", "light"),),
    ),
)

KINDS: Final[tuple[Kind, ...]] = (*_CONTACTS, *PARTS)
