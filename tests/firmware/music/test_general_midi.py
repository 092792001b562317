"""The percussion keys of General MIDI sound as what they are."""

from __future__ import annotations

from firmware.music.general_midi import SOUND_OF_KEY, sound_of_key
from firmware.music.kit import SOUNDS


def test_every_key_of_the_map_has_a_sound() -> None:
    """General MIDI Level 1, percussion key map: keys 35 to 81."""
    assert set(SOUND_OF_KEY) == set(range(35, 82))
    assert set(SOUND_OF_KEY.values()) <= set(SOUNDS)


def test_well_known_keys() -> None:
    """General MIDI Level 1: 36 bass drum 1, 38 acoustic snare, 42 closed hi-hat, 56 cowbell, 70 maracas, 76/77 wood."""
    found = [sound_of_key(key) for key in (36, 38, 42, 56, 70, 76, 77, 0, 127)]
    assert found == ["bass", "snare", "cymbal", "bell", "shaker", "wood", "block", "tick", "tick"]
