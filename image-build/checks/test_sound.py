"""What a director hears: the drone in tune without a gap, a key change by the plan on the stick."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from emulated.board import READY, Board
from emulated.sticks import make_stick
from emulated.tones import RATE, cents, loud_part, recorded, seams, strongest

# ISO 16:1975: A4 is 440 Hz. Equal steps from there to the tonics (common practice): B flat 2 is 23 semitones under A4.
B_FLAT_2 = 440.0 * 2 ** (-23 / 12)
F_2 = 440.0 * 2 ** (-28 / 12)

PLAN = b"""title = "Two keys"
names = "english"

[[step]]
title = "First"
tonic = "Bb"

[[step]]
title = "Second"
tonic = "F"
"""

SECONDS = 20.0


@pytest.mark.nightly
def test_the_drone_is_in_tune_without_a_gap_and_follows_the_plan(board: Board, folder: Path) -> None:
    stick = make_stick(folder / "stick.img", {"KEELNOTE/plans/two-keys.toml": PLAN})
    board.power_on()
    board.control.plug(stick)
    board.wait_ready()
    # The box begins anew when its stick comes, so that settings and plans of the stick count.
    board.wait_until("the box has its stick", lambda: board.log().count(READY) == 2, 120)
    time.sleep(5)
    board.control.tap("kp_7")
    time.sleep(SECONDS)
    board.screen("first-key")
    board.control.tap("kp_7")
    time.sleep(3)
    board.control.tap("kp_decimal")
    time.sleep(2)
    board.control.tap("kp_7")
    time.sleep(SECONDS)
    board.screen("second-key")
    board.control.tap("kp_7")
    time.sleep(3)
    board.cut_power()
    first, second = sounding_parts(folder / "sound.wav")
    for sound, root in ((first, B_FLAT_2), (second, F_2)):
        tones = strongest(sound, 6)
        # Every partial is a whole multiple of the root: the drone is two octaves of one tonic.
        off = [cents(tone.hertz, round(tone.hertz / root) * root) for tone in tones]
        assert max(map(abs, off)) <= 0.05, (root, tones, off)
        assert seams(sound, tones) == []
        assert len(sound) > 0.7 * SECONDS * RATE


def sounding_parts(path: Path) -> tuple:
    """The two stretches between which there is silence."""
    import numpy as np  # noqa: PLC0415 - beside its use

    whole = recorded(path)
    loud = np.flatnonzero(np.abs(whole) > 1e-3)
    gaps = np.flatnonzero(np.diff(loud) > RATE)
    assert len(gaps) == 1, f"{len(gaps) + 1} stretches of sound"
    middle = (loud[gaps[0]] + loud[gaps[0] + 1]) // 2
    return loud_part(whole[:middle]), loud_part(whole[middle:])
