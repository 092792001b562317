"""Which chord some notes are: the kind and root whose members they are, no more and no less."""

from __future__ import annotations

from collections.abc import Iterable

from firmware.music.moving.qualities import QUALITIES
from firmware.music.moving.symbols import ChordSymbol


def recognised(notes: Iterable[int]) -> ChordSymbol | None:
    """Name the chord that notes make.

    Parameters
    ----------
    notes : iterable of int
        Semitones above the tonic, in any octave.

    Returns
    -------
    ChordSymbol or None
        None when the notes are no chord of our table. Of two readings of the same notes, as C6 and Am7, the one with
        its root in the bass counts, else the kind that stands first in the table.
    """
    heard = sorted(set(notes))
    if not heard:
        return None
    classes = {note % 12 for note in heard}
    bass = heard[0] % 12
    found = [
        ChordSymbol(quality.name, root, quality, (bass - root) % 12)
        for quality in QUALITIES
        for root in sorted(classes)
        if {(root + semitones) % 12 for semitones in quality.semitones} == classes
    ]
    return min(found, key=lambda chord: chord.bass != 0, default=None)
