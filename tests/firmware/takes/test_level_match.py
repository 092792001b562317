"""How much a take is amplified."""

from __future__ import annotations

import pytest

from firmware.takes.level_match import replay_gain


@pytest.mark.parametrize(
    ("lufs", "peak", "room_db", "gain"),
    [
        (-30.0, 0.1, None, 10.0),
        (-12.0, 0.8, None, -8.0),
        (None, 0.5, None, 0.0),
        (-30.0, 0.8413951416451951, None, 0.0),  # a peak at -1.5 dB
        (-65.0, 0.0001, None, 40.0),
        (-30.0, 0.0, None, 10.0),
        (-30.0, 0.1, -12.0, 12.0),
        (None, 0.1, -12.0, 12.0),
        (-30.0, 0.1, 5.0, -5.0),
    ],
)
def test_the_gain_is_what_is_asked_for_and_never_clips(
    lufs: float | None, peak: float, room_db: float | None, gain: float
) -> None:
    assert replay_gain(lufs, peak, -20.0, room_db) == pytest.approx(gain, abs=1e-9)
