"""Drone, chord changes, click, replay and answers with nobody playing: not one reading. The hour is in tests/speed."""

from __future__ import annotations

import pytest

from tests.speed.own_alone import CASES, alone


@pytest.mark.timeout(400)  # a minute of work, several on a busy machine
@pytest.mark.parametrize(
    ("case", "minutes"),
    [
        ("room check", 0.5),
        ("no room check", 0.5),
        pytest.param("room check", 2.0, marks=pytest.mark.long),
        pytest.param("room check, RT60 1.2 s", 3.0, marks=pytest.mark.long),
        pytest.param("room check, two clocks 100 ppm apart", 3.0, marks=pytest.mark.long),
    ],
)
def test_nobody_is_heard(case: str, minutes: float) -> None:
    counted = alone(minutes, 21, **CASES[case])
    assert counted["read"] == 0
    assert counted["read without own sound"] > 100  # the check can fail
    if CASES[case]["checked"]:
        # With the room known the ear is not just deaf: silence and noise are told from own sound.
        assert counted["own sound"] < counted["silence"] + counted["noise"]
