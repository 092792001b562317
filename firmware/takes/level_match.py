"""How much a take is amplified when it is replayed."""

from __future__ import annotations

from typing import Final

from firmware.units import db_of

HIGHEST_PEAK_DB: Final = -1.5
"""Where the take's largest sample may come to: just under the limiter, which thus never has to work."""

MOST_DB: Final = 40.0
"""A take that is softer than this allows is mostly the noise of the room."""


def replay_gain(lufs: float | None, peak: float, target: float, room_db: float | None = None) -> float:
    """Gain of a replay in dB.

    Parameters
    ----------
    lufs : float or None
        Loudness of the take as a whole (ITU-R BS.1770); None if it is not known.
    peak : float
        Its largest sample, 0 to 1 and more.
    target : float
        Loudness at which takes are to leave the box, in LUFS.
    room_db : float or None
        Level of the way from the box to its microphone in dB. If it is known, the replay is to come back to the
        microphone as loud as the players were, and `target` does not matter.

    Returns
    -------
    float
        At most what takes the peak to -1.5 dB of full scale, and 0 for a take of unknown loudness.
    """
    if room_db is not None:
        wanted = -room_db
    elif lufs is not None:
        wanted = target - lufs
    else:
        return 0.0
    room = HIGHEST_PEAK_DB - db_of(peak) if peak > 0.0 else MOST_DB
    return min(wanted, room, MOST_DB)
