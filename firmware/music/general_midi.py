"""Which of the box's sounds stands for each percussion key of General MIDI.

Key numbers and names: General MIDI System Level 1, percussion key map (MIDI Association), channel 10, keys 35 to 81.
"""

from __future__ import annotations

from typing import Final

PERCUSSION_CHANNEL: Final = 9
"""Channel 10, counted from 0 as in the bytes."""

_KEYS: Final = (
    ("bass", (35, 36)),  # acoustic bass drum, bass drum 1
    ("snare", (38, 39, 40)),  # acoustic snare, hand clap, electric snare
    ("tom", (41, 43, 45, 47, 48, 50, 60, 61, 62, 63, 64, 65, 66, 78, 79)),  # toms, bongos, congas, timbales, cuicas
    ("cymbal", (42, 44, 46, 49, 51, 52, 55, 57, 59)),  # hi-hats, crash, ride, Chinese, splash
    ("bell", (53, 56, 67, 68, 80, 81)),  # ride bell, cowbell, agogos, triangles
    ("wood", (37, 75, 76)),  # side stick, claves, high wood block
    ("block", (77,)),  # low wood block
    ("shaker", (54, 58, 69, 70, 71, 72, 73, 74)),  # tambourine, vibraslap, cabasa, maracas, whistles, guiros
)

SOUND_OF_KEY: Final = {key: sound for sound, keys in _KEYS for key in keys}
"""The box's sound by key number; keys outside the map tick."""


def sound_of_key(key: int) -> str:
    """The box's sound for a percussion key."""
    return SOUND_OF_KEY.get(key, "tick")
