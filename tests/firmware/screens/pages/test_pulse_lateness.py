"""How early or late the players were, on the pulse page."""

from __future__ import annotations

import pytest

from firmware.screens.fonts import SMALL
from firmware.screens.pages.pulse import TEMPO, state_of
from firmware.screens.view import View


def test_the_last_bar_is_told_unless_this_one_is_special():
    assert state_of(View(pulse_on=True, lateness_ms=12.3)) == "12 ms late"
    assert state_of(View(pulse_on=True, lateness_ms=-4.0)) == "4 ms early"
    assert state_of(View(pulse_on=True)) == ""
    assert state_of(View(pulse_on=False, lateness_ms=12.3)) == ""
    assert state_of(View(pulse_on=True, lateness_ms=12.3, counting=True)) == "count-in"
    assert state_of(View(pulse_on=True, lateness_ms=12.3, silent_bar=True)) == "silent"


@pytest.mark.parametrize("ms", [-188.0, -88.0, 0.0, 88.0, 188.0])
def test_it_fits(ms: float):
    assert SMALL.width(state_of(View(pulse_on=True, lateness_ms=ms))) <= TEMPO.width + 6
