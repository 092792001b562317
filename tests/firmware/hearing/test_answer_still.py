"""Stillness: what does not move for three seconds is doubted, and then more and more seldom."""

from __future__ import annotations

import numpy as np

from firmware.hearing.answer_still import PATIENCE_GROWS, PITCHLESS, STILL_HOPS, Stillness
from firmware.units import ratio_of


def first_doubt(still: Stillness, pitches: list[float | None]) -> int | None:
    """Number of the hop in which the pitches are first doubted."""
    return next((number for number, hz in enumerate(pitches) if still.doubts(hz)), None)


def test_what_stands_still_is_doubted_and_then_more_seldom() -> None:
    still = Stillness()
    assert first_doubt(still, [233.08] * 1000) == STILL_HOPS
    still.begin()
    assert first_doubt(still, [233.08] * 1000) == PATIENCE_GROWS * STILL_HOPS
    still.begin()
    still.forget()
    assert first_doubt(still, [233.08] * 1000) == STILL_HOPS


def test_a_player_who_wavers_by_a_cent_is_never_doubted() -> None:
    cents = np.sin(np.arange(2000) / 9.0)
    assert first_doubt(Stillness(), [233.08 * ratio_of(float(one)) for one in cents]) is None


def test_what_has_no_pitch_is_doubted_after_a_second() -> None:
    assert first_doubt(Stillness(), [None] * 100) == STILL_HOPS // PITCHLESS
    moving: list[float | None] = [200.0 + number for number in range(60)]
    mixed = [hz if number % 4 else None for number, hz in enumerate(moving)]
    assert first_doubt(Stillness(), mixed) is None
