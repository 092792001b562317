"""What a director hears: the drone in tune without a gap, a key change by the plan on the stick."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from emulated.board import Board
from emulated.exact import EXACT, let_pass, stay_awake, tap, wait_for_stick
from emulated.sticks import make_stick
from emulated.tones import RATE, Signal, cents, loud_part, recorded, seams, strongest

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

SECONDS = 12.0


@pytest.mark.timeout(1800)
def test_the_drone_is_in_tune_without_a_gap_and_follows_the_plan(board: Board, folder: Path) -> None:
    board.devices = (*board.devices, *EXACT)
    stick = make_stick(folder / "stick.img", {"KEELNOTE/plans/two-keys.toml": PLAN})
    board.power_on()
    board.control.plug(stick)
    # The box begins anew when its stick comes, so that settings and plans of the stick count.
    wait_for_stick(board, stick, 900)
    stay_awake(board)
    let_pass(board, 2)
    tap(board, "kp_7")
    let_pass(board, SECONDS)
    board.screen("first-key")
    tap(board, "kp_7")
    let_pass(board, 2)
    # The right pedal opens the plan with its first step; its next press is the second.
    tap(board, "kp_decimal")
    let_pass(board, 1)
    tap(board, "kp_decimal")
    let_pass(board, 1)
    tap(board, "kp_7")
    let_pass(board, SECONDS)
    board.screen("second-key")
    tap(board, "kp_7")
    let_pass(board, 2)
    board.cut_power()
    told = []
    for sound, root in zip(sounding_parts(folder / "sound.wav"), (B_FLAT_2, F_2), strict=True):
        tones = strongest(sound, 6)
        # Every partial is a whole multiple of the root: the drone is two octaves of one tonic.
        off = [cents(tone.hertz, round(tone.hertz / root) * root) for tone in tones]
        told.append(f"{root:.4f} Hz, {len(sound) / RATE:.1f} s: {max(map(abs, off)):.2g} cent off at most")
        assert max(map(abs, off)) <= 0.05, (root, tones, off)
        assert seams(sound, tones) == []
        assert len(sound) > (SECONDS - 2.5) * RATE
    (folder / "figures.txt").write_text("\n".join(told) + "\n", encoding="utf-8")


def sounding_parts(path: Path) -> tuple[Signal, Signal]:
    """The two stretches between which there is silence."""
    whole = recorded(path)
    loud = np.flatnonzero(np.abs(whole) > 1e-3)
    gaps = np.flatnonzero(np.diff(loud) > RATE)
    assert len(gaps) == 1, f"{len(gaps) + 1} stretches of sound"
    middle = (loud[gaps[0]] + loud[gaps[0] + 1]) // 2
    return loud_part(whole[:middle]), loud_part(whole[middle:])
