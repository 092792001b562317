"""Kits name sounds that there are."""

from __future__ import annotations

import pytest

from firmware.errors import UnknownNameError
from firmware.music.kit import KITS, SOUNDS, kit_named


def test_every_kit_is_made_of_known_sounds() -> None:
    for kit in KITS:
        assert kit_named(kit.name) is kit
        assert {kit.bar, kit.group, kit.beat, kit.division, kit.cross} <= set(SOUNDS)
    with pytest.raises(UnknownNameError, match="click"):
        kit_named("clik")
