"""The players' spectra are what their table says."""

import numpy as np
import pytest

from firmware.errors import UnknownNameError
from firmware.units import RATE
from hardware.simulated.timbres import (
    HIGHEST_HZ,
    PLAYER_TIMBRES,
    TABLE,
    PlayerTimbre,
    breath,
    one_period,
    partials,
    player_timbre,
)


def test_names_are_unique_and_found():
    names = [timbre.name for timbre in PLAYER_TIMBRES]
    assert len(set(names)) == len(names)
    assert [player_timbre(name).name for name in names] == names
    with pytest.raises(UnknownNameError, match="Did you mean 'trombone'"):
        player_timbre("tromboon")


@pytest.mark.parametrize("timbre", PLAYER_TIMBRES, ids=lambda timbre: timbre.name)
@pytest.mark.parametrize("hz", [41.2, 233.1, 1864.7])
def test_one_period_holds_the_partials_and_nothing_else(timbre: PlayerTimbre, hz: float):
    period = one_period(timbre, hz)
    assert period[-1] == period[0]
    assert np.sqrt(np.mean(period[:-1].astype(float) ** 2)) == pytest.approx(1.0, abs=1e-4)
    found = np.abs(np.fft.rfft(period[:-1].astype(float)))
    wanted = partials(timbre, hz)
    assert len(wanted) * hz <= HIGHEST_HZ
    measured = found[1 : len(wanted) + 1] / found[1] * wanted[0]
    assert measured == pytest.approx(wanted, rel=1e-3, abs=1e-4 * float(wanted.max()))
    assert found[len(wanted) + 1 :].max() < 1e-5 * found.max()


def test_a_clarinet_lacks_even_partials_and_formants_lift_what_is_near():
    clarinet = 20 * np.log10(partials(player_timbre("clarinet"), 147.0))
    assert (clarinet[[1, 3]] < clarinet[[0, 2]] - 12).all()
    plain = partials(PlayerTimbre("x", -6.0), 100.0)
    lifted = partials(PlayerTimbre("x", -6.0, formants=((1000.0, 10.0, 0.3),)), 100.0)
    gain = 20 * np.log10(lifted / plain)
    assert gain[9] == pytest.approx(10.0, abs=0.01)
    assert gain[0] == pytest.approx(0.0, abs=0.01)


def test_a_note_above_the_limit_still_has_its_fundamental():
    assert len(partials(player_timbre("flute"), 20_000.0)) == 1


def test_breath_has_its_level_and_lies_above_the_tone():
    flute = player_timbre("flute")
    noise = breath(flute, 440.0, 1 << 15, np.random.default_rng(1)).astype(float)
    assert 20 * np.log10(np.sqrt(np.mean(noise**2))) == pytest.approx(flute.breath_db, abs=0.01)
    power = np.abs(np.fft.rfft(noise)) ** 2
    hz = np.fft.rfftfreq(len(noise), 1 / RATE)
    assert power[hz < 200].sum() < 1e-6 * power.sum()


def test_the_table_is_long_enough_for_linear_reading():
    # The largest error of linear interpolation of sin(2 pi k x / n) is (2 pi k / n)^2 / 8 (textbook).
    assert 20 * np.log10((2 * np.pi * 20 / TABLE) ** 2 / 8) < -78
