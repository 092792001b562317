"""Killed or without power at any moment: no take is lost, and at most 1.2 s of the one that ran."""

from __future__ import annotations

from tests.speed.take_killed import run


def test_ten_kills_five_of_them_with_the_power_cut() -> None:
    """The program itself does 300, see tests/speed/results/take_killed.json."""
    outcomes = run(10, first_seed=1000, longest=2.5)
    assert [damage for one in outcomes for damage in one.damaged] == []
    assert sum(one.takes for one in outcomes) >= 8
    missing = [one.missing for one in outcomes if one.missing is not None]
    assert missing
    assert max(missing) <= 1.2
