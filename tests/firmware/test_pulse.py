"""From settings to programs, and from one program to the next while it runs."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import UnknownNameError
from firmware.music.grooves import GROOVES, groove_named
from firmware.music.meter import Bars, parse_meter
from firmware.music.program import Program
from firmware.music.tempo import Curve, Law, Stretch
from firmware.pulse import Piece, Rhythms, chosen, going_on, program_of, same_tempo
from firmware.settings import DEFAULTS, SETTINGS, Values

NONE = Rhythms()


def with_values(**changes: str | float) -> Values:
    values = DEFAULTS
    for name, value in changes.items():
        values = values.put(name, value)
    return values


def made(**changes: str | float) -> Program:
    return program_of(with_values(**changes), NONE)


def test_the_defaults_are_four_plain_beats() -> None:
    program = made()
    assert (program.bars.text, program.curve.speed, program.unit) == ("4/4", 23.0, Fraction(1, 4))
    assert program.groove is None
    assert not any(program.silent_in(bar) for bar in range(100))


def test_the_tempo_counts_the_beat_of_the_first_bar() -> None:
    program = made(meter="6/8 3/4", tempo=60.0)
    assert program.unit == Fraction(3, 8)
    assert [beat.time for beat in program.beats(1)] == [0.0, 1.0]
    assert made(meter="2+2+3/8", tempo=120.0).beats(1)[2].time == 1.0


def test_every_setting_of_the_pulse_is_heeded() -> None:
    program = made(
        groove="swing", swing=1.5, kit="wood", subdivision=3, cross="3:2", accents="bar", count_in=2, pickup=1.0,
        heard_bars=4, silent_bars=2,
    )  # fmt: skip
    assert program.groove is groove_named("swing")
    assert (program.swing, program.kit, program.subdivision, program.cross) == (Fraction(3, 2), "wood", 3, (3, 2))
    assert (program.accents, program.count_in, program.pickup) == ("bar", 2, Fraction(1, 4))
    assert [program.silent_in(bar) for bar in (4, 5, 6, 7)] == [False, True, True, False]


def test_a_ramp_comes_after_its_bars() -> None:
    program = made(tempo=120.0, ramp_to=60.0, ramp_over=8, ramp_after=2, ramp_law="time")
    assert program.curve.moves == (Stretch(Fraction(2), 30.0, 30.0), Stretch(Fraction(2), 30.0, 15.0, Law.TIME))
    assert made(tempo=120.0, moves="120->60 over 8 beats").curve.moves == (Stretch(Fraction(2), 30.0, 15.0),)
    assert made(meter="32/32", moves="900 bars, 60->30 over 2 s").curve.moves == ()


def test_a_pickup_stays_shorter_than_the_bar() -> None:
    assert made(meter="2/4", pickup=8.0).pickup == Fraction(1, 2) - Fraction(1, 32)


def test_an_unknown_groove_is_plain_beats_and_the_users_own_can_be_chosen() -> None:
    assert made(groove="of my own").groove is None
    own = GROOVES[0].__class__("of my own", "Mine", parse_meter("4/4"), ((),))
    piece = Piece("Ferry Hymn", Program(length=12))
    rhythms = Rhythms((own,), (piece,))
    assert program_of(with_values(groove="of my own"), rhythms).groove is own
    assert program_of(with_values(groove="Ferry Hymn", count_in=1), rhythms).length == 12
    assert rhythms.names[0] == "click"
    assert rhythms.names[-2:] == ("of my own", "Ferry Hymn")
    assert rhythms.check("waltz") == "waltz"
    with pytest.raises(UnknownNameError, match="Ferry Hymn"):
        rhythms.check("Fery Hymn")


def test_names_go_round() -> None:
    names = ("a", "b", "c")
    assert [chosen(names, "c", 1), chosen(names, "a", -1), chosen(names, "?", 5)] == ["a", "c", "a"]


def test_only_what_changes_the_tempo_is_another_tempo() -> None:
    assert same_tempo(DEFAULTS, with_values(swing=3.0))
    assert not same_tempo(DEFAULTS, with_values(tempo=93.0))
    assert not same_tempo(DEFAULTS, with_values(ramp_over=4))


@pytest.mark.parametrize("at_once", [False, True])
def test_a_new_tempo_goes_on_from_where_the_old_one_is(at_once: bool) -> None:  # noqa: FBT001 - both ways
    old, seconds = Program(curve=Curve(15.0)), 6.25
    new, later = going_on(old, Program(curve=Curve(30.0)), seconds, tempo=120.0, at_once=at_once)
    # 60 a minute: the beats at 6 and 7 s have passed or come; the next after that is half a second later.
    times = [later + new.time(Fraction(beat, 4)) for beat in (6, 7, 8)]
    assert times == pytest.approx([6.0, 6.625, 7.125] if at_once else [6.0, 7.0, 7.5], abs=1e-9)


def test_a_new_meter_begins_with_the_next_bar_and_keeps_the_pulse_of_the_beat() -> None:
    old = Program(curve=Curve(15.0))
    new, later = going_on(old, made(meter="3/4"), 5.0, tempo=None, at_once=False)
    assert later == 0.0
    assert [new.bars.bar(bar)[1].text for bar in (1, 2, 3, 4)] == ["4/4", "4/4", "3/4", "3/4"]
    new, later = going_on(old, made(meter="6/8"), 5.0, tempo=None, at_once=False)
    assert [later + beat.time for beat in new.beats(3)] == pytest.approx([8.0, 9.0])
    new, _ = going_on(old, made(meter="6/8"), 5.0, tempo=120.0, at_once=False)
    assert [beat.time for beat in new.beats(3)] == pytest.approx([8.0, 8.5])


def test_in_the_count_in_the_tempo_changes_at_once() -> None:
    old = Program(curve=Curve(15.0), count_in=1)
    new, later = going_on(old, Program(curve=Curve(30.0)), 2.0, tempo=120.0, at_once=False)
    assert new.count_in == 1
    assert later + new.time(Fraction(-1, 2)) == pytest.approx(2.0)
    assert later + new.time(Fraction(0)) == pytest.approx(3.0)


def any_value(name: str) -> st.SearchStrategy[str | float]:
    setting = next(setting for setting in SETTINGS if setting.name == name)
    if setting.choices:
        return st.sampled_from(setting.choices)
    steps = round((setting.high - setting.low) / setting.step)
    return st.integers(0, steps).map(lambda step: type(setting.default)(setting.low + step * setting.step))


OWNED = [setting.name for setting in SETTINGS if setting.owner == "pulse"]


@settings(max_examples=60, deadline=None)
@given(st.fixed_dictionaries({name: any_value(name) for name in OWNED}), st.floats(0, 300))
def test_any_settings_make_a_program_that_another_can_follow(values: dict[str, str | float], seconds: float) -> None:
    program = made(**values)
    times = [hit.time for bar in range(program.first_bar, 12) for hit in program.hits(bar)]
    assert times == sorted(times)
    assert all(time >= -1e-9 for time in times)
    other, later = going_on(program, made(tempo=97.0, meter="3/4"), seconds, tempo=97.0, at_once=False)
    here = Fraction(program.position(seconds))
    assert later + other.time(here) == pytest.approx(program.time(here), abs=1e-6)
    assert Bars().bar(1)[0] == 0
