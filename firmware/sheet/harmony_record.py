"""What a log line says of a harmony beyond key and shape: a tuning of the user's own, and a chord that has moved.

Both in exact intervals, so that players can be judged by them again when the file of the tuning has changed.
"""

from __future__ import annotations

from typing import Any, Final

from firmware.music.chords import HeldChord, Member, Role
from firmware.music.harmony import Harmony
from firmware.music.intervals import Interval
from firmware.music.tuning import Tuning, own_tuning
from firmware.sheet.checked import short_of, table_of, text_of

PLACES: Final = range(-24, 128)
MOST: Final = 64
"""Members or voices of a chord in a file."""


def harmony_record(harmony: Harmony) -> dict[str, object]:
    """The further values of its line; none for a tuning of the box and a chord of the key."""
    told: dict[str, object] = {}
    if harmony.own is not None:
        told["own"] = [harmony.own.interval(harmony.key, semitones).text for semitones in range(1, 12)]
    if harmony.held is not None:
        told["held"] = _held(harmony.held)
    return told


def own_of(record: dict[str, Any], name: str) -> Tuning | None:
    """The user's own tuning that a record tells; None if it was one of the box."""
    own = record.get("own")
    return own_tuning(name, dict(enumerate(map(text_of, own), start=1))) if isinstance(own, list) else None


def held_of(record: dict[str, Any]) -> HeldChord | None:
    """The chord that a record tells; None without one.

    Raises
    ------
    ValueError, TypeError, KeyError, KeelnoteError
        If it is damaged.
    """
    if "held" not in record:
        return None
    told = table_of(record["held"])
    members = tuple(
        (Member(Role(int(role)), _place(above), Interval.of(text_of(pure))), _place(n), Interval.of(text_of(interval)))
        for role, above, pure, n, interval in _rows(told["members"])
    )
    voices = tuple((_place(n), Interval.of(text_of(interval))) for n, interval in _rows(told["voices"]))
    return HeldChord(text_of(told["chord"]), _place(told["root"]), members, voices, short_of(told["drift"]))


def _place(told: object) -> int:
    """Semitones above a tonic; what lies outside of every keyboard is damage."""
    if not isinstance(told, int) or told not in PLACES:
        raise ValueError(told)
    return told


def _rows(told: object) -> list[Any]:
    if not isinstance(told, list) or len(told) > MOST:
        raise TypeError(told)
    return told


def _held(held: HeldChord) -> dict[str, object]:
    return {
        "chord": held.name,
        "root": held.root,
        "members": [
            [int(one.role), one.semitones, one.interval.text, n, interval.text] for one, n, interval in held.members
        ],
        "voices": [[n, interval.text] for n, interval in held.voices],
        "drift": held.drift,
    }
