"""How the sheet words the sound level of a rehearsal."""

from __future__ import annotations

from typing import Final

from firmware.sheet.rehearsal import SoundLevel
from firmware.sheet.words import clock

SMALL_DOSE: Final = 0.5
"""Per cent under which a dose is told as less than 1."""


def level_text(level: SoundLevel) -> str:
    """Average, loudest and dose in a sentence or two; without calibration neither dB(A) nor a dose."""
    if not level.calibrated:
        return (
            f"Uncalibrated: on average {_db(level.mean_db)} dB below full scale (A-weighted), the loudest moment "
            f"{_db(level.loudest_db)} dB. Set the level against a meter on the room page to have dB(A) and the dose."
        )
    dose = "less than 1" if level.dose < SMALL_DOSE else f"{level.dose:.0f}"
    text = (
        f"On average about {level.mean_db:.0f} dB(A), the loudest moment {level.loudest_db:.0f} dB(A); "
        f"{dose} % of a day's recommended sound dose"
    )
    missing = level.seconds - level.counted_s
    return f"{text}, counted over {clock(level.counted_s)} since it was calibrated." if missing > 60 else f"{text}."


def _db(level_db: float) -> str:
    return f"{-level_db:.0f}"
