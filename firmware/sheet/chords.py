"""The part of the sheet that tells what the chord check found."""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Iterable
from typing import Final

from firmware.sheet.figures import degree_order
from firmware.sheet.html import folded, section, table, words
from firmware.sheet.rehearsal import ChordCheck, ChordMember, Rehearsal
from firmware.sheet.words import clock, counted, signed_cents

MOST_CHORDS: Final = 6
"""Chords that are told together; those checked most."""

MOST_CHECKS: Final = 40
"""Single checks that are listed, the last ones."""

UNREAD: Final = "–"


def chords_html(rehearsal: Rehearsal) -> str:
    """Draw up the part; nothing when no chord was checked."""
    if not rehearsal.chords:
        return ""
    groups: dict[tuple[str, str], list[ChordCheck]] = {}
    for check in rehearsal.chords:
        groups.setdefault((check.chord, check.degree), []).append(check)
    most = sorted(groups.items(), key=lambda item: -len(item[1]))[:MOST_CHORDS]
    rows = [(chord, str(len(checks)), _together(checks)) for (chord, _), checks in most]
    last = rehearsal.chords[-MOST_CHECKS:]
    each = table(
        "Table of single chord checks",
        ("at", "chord", "held", "degrees"),
        ((clock(one.start_s), one.chord, f"{one.seconds:.1f} s", "; ".join(map(_told, one.members))) for one in last),
    )
    return section(
        "Chord checks",
        table("Table of chord checks", ("chord", "checks", "each degree: cents, level"), rows),
        words("Cents from the just target, level against the middle of the chord; – could not be heard apart.", "hint"),
        folded(f"{counted(len(last), 'check')}, one by one", each),
        kind="chords",
    )


def _together(checks: Iterable[ChordCheck]) -> str:
    """Median of each degree over all checks of a chord, and the level that was found most."""
    members: dict[str, list[ChordMember]] = {}
    for check in checks:
        for member in check.members:
            members.setdefault(member.degree, []).append(member)
    return "; ".join(_told(_typical(members[degree])) for degree in sorted(members, key=degree_order))


def _typical(members: list[ChordMember]) -> ChordMember:
    cents = [member.cents for member in members if member.cents is not None]
    (level, _), *_ = Counter(member.level for member in members).most_common()
    return ChordMember(members[0].degree, members[0].note, statistics.median(cents) if cents else None, level)


def _told(member: ChordMember) -> str:
    if member.cents is None:
        return f"{member.degree} {UNREAD}"
    level = "" if member.level in {"", "even"} else f" {member.level}"
    return f"{member.degree} {signed_cents(member.cents)}{level}"
