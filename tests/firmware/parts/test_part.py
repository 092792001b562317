"""What all parts share: addresses, turning, planning, and where a rehearsal is kept."""

from __future__ import annotations

from firmware.events import Adjusted, PlanStepped, SettingChanged, Tick, Wish, Wished
from firmware.parts.part import Start, address_of, changed, planned, turned
from firmware.settings import DEFAULTS


def test_a_wish_is_its_own_address() -> None:
    assert address_of(Tick(0)) is Tick
    assert address_of(Wished(0, Wish.EAR_NEXT)) is Wish.EAR_NEXT


def test_turning_says_what_it_did_and_nothing_at_the_end_of_the_range() -> None:
    values, follow = turned(DEFAULTS, Adjusted(7, "octave", 2))
    assert (values.whole("octave"), follow) == (4, (SettingChanged(7, "octave", 4),))
    values, _ = turned(values, Adjusted(8, "octave", 50))
    assert turned(values, Adjusted(9, "octave", 1)) == (values, ())


def test_an_equal_value_is_no_change() -> None:
    assert changed(DEFAULTS, 0, "tempo", 92) == (DEFAULTS, ())


def test_a_plan_step_sets_only_what_is_held_here() -> None:
    mine = DEFAULTS.owned("pulse")
    values, follow = planned(mine, PlanStepped(3, 1, "x", (("tonic", "F"), ("count_in", 3))))
    assert values.whole("count_in") == 3
    assert "tonic" not in values.entries
    assert follow == (SettingChanged(3, "count_in", 3),)


def test_the_folder_of_a_rehearsal() -> None:
    assert Start(number=42, date="2026-11-25").folder == "rehearsals/0042 2026-11-25"
    assert Start(number=7).folder == "rehearsals/0007"
