"""The lines of own sound are found, followed and given up in own sound itself."""

from __future__ import annotations

import numpy as np

from firmware.hearing.own_lines import OwnLines

RATE = 12_000.0
HOP = 480


def hops(hz: tuple[float, ...], count: int, first: int = 0) -> list[np.ndarray]:
    """So many hops of tones that begin at sample 0, from hop `first` on."""
    time = np.arange(first * HOP, (first + count) * HOP) / RATE
    sound = sum((0.1 * np.cos(2 * np.pi * one * time) for one in hz), np.zeros(len(time)))
    return list(sound.reshape(-1, HOP))


def found(lines: OwnLines, sounds: list[np.ndarray], first: int = 0) -> int | None:
    """Feed hops; the index of the hop in which lines were found."""
    at = None
    for index, sound in enumerate(sounds, first):
        lines.add(sound)
        if lines.bank is not None:
            lines.follow(lines.bank, index)
        elif lines.search(index, 0):
            at = index
    return at


def test_lines_are_found_in_half_a_second_to_a_thousandth_of_a_hertz() -> None:
    lines = OwnLines(RATE, HOP)
    at = found(lines, hops((220.0, 330.37), 40))
    assert at is not None
    assert at * HOP / RATE < 0.6
    np.testing.assert_allclose(lines.hz, [220.0, 330.37], atol=1e-3)
    assert lines.steady_from == 0
    np.testing.assert_allclose(lines.power, 2 * 0.1**2, rtol=1e-3)


def test_a_click_besides_is_astray_and_another_chord_ends_the_lines() -> None:
    lines = OwnLines(RATE, HOP)
    sounds = hops((220.0,), 60)
    found(lines, sounds[:40])
    click = sounds[40] + np.where(np.arange(HOP) < 60, 0.2, 0.0)
    found(lines, [click], 40)
    astray = [lines.astray]
    assert lines.bank is not None
    found(lines, sounds[41:], 41)
    assert [*astray, lines.astray] == [True, False]
    again = found(lines, hops((233.0,), 40, 60), 60)
    assert again is not None
    np.testing.assert_allclose(lines.hz, [233.0], atol=1e-3)
    assert 58 <= lines.steady_from <= 61


def test_sound_that_comes_later_keeps_its_lines_with_another_phase() -> None:
    lines = OwnLines(RATE, HOP)
    found(lines, hops((220.0,), 40))
    before = lines.phasors.copy()
    lines.come_later(3)
    np.testing.assert_allclose(np.angle(before / lines.phasors), 2 * np.pi * 220.0 * 3 / RATE, atol=1e-3)
    late = np.concatenate([np.zeros(3), np.concatenate(hops((220.0,), 60))])[: 60 * HOP].reshape(-1, HOP)
    found(lines, list(late[40:]), 40)
    assert lines.bank is not None
    assert not lines.astray
