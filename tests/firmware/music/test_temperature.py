"""What the temperature of the room does to winds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.temperature import RANGE, speed_of_sound, suggested_reference, winds_off


@pytest.mark.parametrize(("celsius", "metres"), [(0, 331.3), (20, 343.2), (25, 346.1), (30, 349.0)])
def test_the_speed_of_sound_is_that_of_the_handbooks(celsius, metres):
    # CRC Handbook of Chemistry and Physics, speed of sound in dry air (values from memory).
    assert speed_of_sound(celsius) == pytest.approx(metres, abs=0.3)


def test_near_20_degrees_it_is_about_3_cents_a_degree():
    # Common practice: 3 cents for each degree Celsius.
    assert winds_off(21) == pytest.approx(2.95, abs=0.05)
    assert winds_off(19) == pytest.approx(-2.95, abs=0.05)
    assert winds_off(20) == 0


def test_a_cold_room_asks_for_a_lower_reference():
    assert suggested_reference(15, 440) == 436
    assert suggested_reference(20, 442) == 442
    assert suggested_reference(26, 440) == 444.5


@given(st.floats(*RANGE), st.floats(*RANGE))
def test_warmer_is_never_lower(one, other):
    cold, warm = sorted((one, other))
    assert winds_off(cold) <= winds_off(warm)


@pytest.mark.parametrize("celsius", [-1, 46, float("nan")])
def test_what_no_room_has_is_refused(celsius):
    with pytest.raises(OutOfRangeError, match="0 to 45 °C"):
        speed_of_sound(celsius)
