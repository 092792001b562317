"""Equal temperament: twelve equal semitones to the octave."""

from __future__ import annotations

from firmware.music.intervals import SEMITONE
from firmware.music.tuning import Tuning, on_tonic

EQUAL = Tuning(
    name="equal",
    title="equal",
    source="twelfth root of two; ISO 16 gives A4 = 440 Hz",
    fixed=False,
    rule=on_tonic([SEMITONE**semitones for semitones in range(12)]),
)
