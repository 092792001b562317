"""Plans from files of every kind: a plan in TOML, a score in MusicXML, a Standard MIDI File."""

from __future__ import annotations

from pathlib import PurePath
from typing import Final

from firmware.errors import BadEntryError, BadFileError
from firmware.music.languages import language_named
from firmware.music.languages.english import ENGLISH
from firmware.music.words import Words
from firmware.plan.checked_toml import decode
from firmware.plan.midi_file import read_midi
from firmware.plan.midi_score import score_of_midi
from firmware.plan.musicxml import read_musicxml
from firmware.plan.mxl import MOST_BYTES
from firmware.plan.plan import Plan, Tunings, read_plan
from firmware.plan.score_plan import plan_of_score

TEXT: Final = (".toml",)
SCORES: Final = (".musicxml", ".mxl", ".xml")
MIDI: Final = (".mid", ".midi")
KINDS: Final = (*TEXT, *SCORES, *MIDI)
LONGEST_PLAN: Final = 1_000_000
"""Bytes of a plan in TOML: some ten times one of as many steps as a plan may have."""

LONGEST: Final = MOST_BYTES

Outcome = tuple[Plan, tuple[BadEntryError, ...], tuple[str, ...]]


def plan_of_file(
    data: bytes, name: str, *, once: bool = False, names: str = ENGLISH.name, tunings: Tunings = None
) -> Outcome:
    """Plan of a file by the ending of its name, what was wrong in it, and what of a score can't be followed.

    A bad entry of a plan costs only itself. `once` takes each section of a score once, as printed; `names` are the
    room's note names, `tunings` the names of own tunings, None if they are unknown.

    Raises
    ------
    BadFileError
        For a file of another kind, and for a score or MIDI file that can't be read.
    """
    path = PurePath(name)
    words = Words(language_named(names))
    kind = path.suffix.lower()
    if kind in TEXT:
        if len(data) > LONGEST_PLAN:
            raise BadFileError(name, f"{len(data)} bytes", f"a plan of at most {LONGEST_PLAN} bytes")
        text, problems = decode(data, name)
        plan, more = read_plan(text, name, names, tunings)
        return plan, (*problems, *more), plan.remarks
    if kind in SCORES:
        plan, remarks = plan_of_score(read_musicxml(data, name), path.stem, once=once, words=words)
        return plan, (), remarks
    if kind in MIDI:
        plan, remarks = plan_of_score(score_of_midi(read_midi(data, name), name), path.stem, once=once, words=words)
        return plan, (), remarks
    raise BadFileError("file", name, "a plan or a score, by the ending of its name: " + ", ".join(KINDS))
