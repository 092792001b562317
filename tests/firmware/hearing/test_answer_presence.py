"""Whether a player is still there, by the levels of free partials."""

from __future__ import annotations

import numpy as np

from firmware.hearing.answer_partials import LOOKS, Looks
from firmware.hearing.answer_presence import Presence, holds, latest, share_of


def looks(*partials: float, own: float = 0.0, noise: float = 1e-9, numbers: tuple[int, ...] = (2, 3)) -> Looks:
    """Looks that all have these powers."""
    return Looks(np.array(numbers), np.tile(partials, (LOOKS, 1)), np.full(LOOKS, own), noise, 300.0)


def falling(start: float, db: float) -> Looks:
    """Looks that fall by so many decibels from the first to the last."""
    power = start * 10 ** (-db / 10 * np.arange(LOOKS) / (LOOKS - 1))
    return Looks(np.array([2]), power[:, None], np.zeros(LOOKS), 1e-9, 300.0)


def test_a_player_who_falls_by_six_decibels_has_stopped_and_one_who_grows_softer_has_not() -> None:
    presence = Presence()
    assert presence.lasts(looks(1e-4, 1e-4))
    presence.remember(looks(1e-4, 1e-4))
    assert presence.lasts(looks(0.3e-4, 0.3e-4))
    assert not presence.lasts(looks(0.2e-4, 0.2e-4))
    level = 1e-4
    for _ in range(25):  # a second, 12 dB softer
        level *= 10 ** (-0.048)
        assert presence.lasts(looks(level, level))
        presence.remember(looks(level, level))
    assert presence.before(0.0) < 2e-5


def test_what_beats_counts_in_the_mean() -> None:
    """What a loudspeaker adds beats with what rings: one of three looks is high, and yet the player has gone."""
    presence = Presence()
    presence.remember(looks(1e-4, 1e-4))
    beating = looks(0.2e-4, 0.1e-4)
    beating.power[-2] = 0.5e-4, 0.1e-4
    assert not presence.lasts(beating)


def test_noise_and_what_the_answer_leaks_are_no_player() -> None:
    assert not Presence().lasts(looks(1e-8, 1e-8, noise=1e-8))
    assert not Presence().lasts(looks(1e-8, 1e-8, own=1e-3))
    assert Presence().lasts(looks(1e-6, 1e-6, own=1e-3))


def test_a_strong_partial_that_falls_while_another_holds_is_a_change() -> None:
    presence = Presence()
    assert not presence.changed(looks(1e-4, 1e-4))
    presence.remember(looks(1e-4, 1e-4))
    assert presence.changed(looks(0.05e-4, 1e-4))
    assert not presence.changed(looks(0.2e-4, 1e-4))
    assert not presence.changed(looks(1e-4, numbers=(2,)))  # other partials are free now
    presence.forget()
    assert not presence.known
    assert not presence.changed(looks(0.05e-4, 1e-4))
    assert presence.before(7.0) == 7.0


def test_what_rings_falls() -> None:
    assert holds(falling(1e-4, 1.0))
    assert not holds(falling(1e-4, 3.5))  # 50 dB a second, a room of 1.2 s, for 70 ms
    assert latest(falling(1e-4, 0.0)) == 1e-4
    assert share_of(looks(1e-8, 1e-8, noise=1e-8)) == 0.5
