"""Just ratios of one octave, with the names and the source they have in the literature.

Names and cents: Hermann Helmholtz, *On the Sensations of Tone*, translated by Alexander J. Ellis, appendix XX,
section D, table of intervals not exceeding one octave. The wording of the names is from memory.
"""

from __future__ import annotations

from collections.abc import Mapping

from firmware.music.intervals import Interval

SOURCE = "Helmholtz tr. Ellis, app. XX sect. D"

NAMED: Mapping[str, str] = {
    "1/1": "unison",
    "16/15": "diatonic semitone",
    "10/9": "minor tone",
    "9/8": "major tone",
    "6/5": "just minor third",
    "5/4": "just major third",
    "4/3": "just fourth",
    "7/5": "septimal tritone",
    "45/32": "just tritone",
    "64/45": "diminished fifth",
    "10/7": "septimal diminished fifth",
    "3/2": "just fifth",
    "25/16": "augmented fifth",
    "8/5": "just minor sixth",
    "5/3": "just major sixth",
    "27/16": "Pythagorean major sixth",
    "128/75": "diminished seventh",
    "7/4": "harmonic seventh",
    "16/9": "small minor seventh",
    "9/5": "large minor seventh",
    "15/8": "just major seventh",
}
"""Every just ratio that the modes and chords use, in rising order within the octave."""


def ratio(text: str) -> Interval:
    """Return the interval of a ratio that the table above names."""
    if text not in NAMED:
        message = f"{text} has no entry in the table of just ratios"
        raise KeyError(message)
    return Interval.of(text)


def source_of(text: str) -> str:
    """Say what a ratio is called and where it is published."""
    return f"{NAMED[text]} {text.replace('/', ':')} ({SOURCE})"
