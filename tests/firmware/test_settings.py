"""Settings: one table, ends and circles, and a file that survives whatever is written into it."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError, UnknownNameError
from firmware.settings import DEFAULTS, SETTINGS, Setting, Values, read_settings, setting_named, write_settings


def any_value(setting: Setting) -> st.SearchStrategy[str | int | float]:
    if setting.choices:
        return st.sampled_from(setting.choices)
    if isinstance(setting.default, int):
        return st.integers(int(setting.low), int(setting.high))
    return st.floats(setting.low, setting.high, allow_nan=False)


@st.composite
def any_values(draw: st.DrawFn) -> Values:
    values = DEFAULTS
    for setting in SETTINGS:
        values = values.put(setting.name, draw(any_value(setting)))
    return values


@given(any_values())
def test_settings_come_back_from_their_file(values: Values) -> None:
    back, problems = read_settings(write_settings(values))
    assert problems == ()
    assert dict(back.entries) == dict(values.entries)


@given(st.sampled_from(SETTINGS), st.integers(-400, 400), st.data())
def test_a_turned_setting_is_always_accepted(setting: Setting, steps: int, data: st.DataObject) -> None:
    value = data.draw(any_value(setting))
    turned = setting.turned(value, steps)
    assert setting.accepts(turned)
    assert type(turned) is type(setting.default)


def test_the_defaults_are_accepted_and_explained() -> None:
    for setting in SETTINGS:
        assert setting.accepts(setting.default), setting.name
        assert setting.help
        assert setting.allowed


def test_values_are_written_as_musicians_read_them() -> None:
    assert setting_named("drone_level").written(-18.0) == "−18"
    assert setting_named("a4").written(442.5) == "442.5"
    assert setting_named("mode").written("harmonic-minor") == "harmonic-minor"


def test_there_and_back_is_where_one_was() -> None:
    tempo = setting_named("tempo")
    assert tempo.turned(tempo.turned(92.0, 7), -7) == 92.0
    assert setting_named("timbre").turned("reed", len(setting_named("timbre").choices)) == "reed"


def test_a_bad_entry_falls_back_alone() -> None:
    text = 'tonic = "H"\noctave = 3\ntempo = "fast"\nvolume = 11\na4 = 1000\n'
    values, problems = read_settings(text)
    assert values.whole("octave") == 3
    assert values.text("tonic") == "Bb"
    assert values.number("tempo") == 92.0
    assert values.number("a4") == 440.0
    assert {problem.line for problem in problems} == {1, 3, 4, 5}
    assert any("volume" in problem.text for problem in problems)


@given(st.text())
def test_any_text_gives_settings(text: str) -> None:
    values, _ = read_settings(text)
    for setting in SETTINGS:
        assert setting.accepts(values.entries[setting.name])


def test_the_file_explains_every_entry() -> None:
    text = write_settings(DEFAULTS)
    assert set(tomllib.loads(text)) == {setting.name for setting in SETTINGS}
    for setting in SETTINGS:
        assert f"# {setting.help}: {setting.allowed}\n{setting.name} = " in text


def test_values_refuse_what_is_not_allowed() -> None:
    with pytest.raises(OutOfRangeError, match="380 to 480 Hz"):
        DEFAULTS.put("a4", 500.0)
    with pytest.raises(OutOfRangeError, match="choose from"):
        DEFAULTS.put("shape", "square")
    with pytest.raises(OutOfRangeError):
        DEFAULTS.put("octave", 2.5)
    with pytest.raises(OutOfRangeError):
        DEFAULTS.put("octave", value=True)
    with pytest.raises(UnknownNameError, match="tempo"):
        setting_named("tempi")


def test_a_text_of_ones_own_is_accepted_where_it_can_be_read() -> None:
    meter = setting_named("meter")
    assert meter.accepts("4/4x3 3/4")
    assert not any(meter.accepts(text) for text in ("4/5", "", "4/4\n", "4/4 " * 99, 4))
    assert "write your own" in meter.allowed
    values, problems = read_settings('meter = "5+4/8"\nmoves = "92->60 over 8 beats"\ngroove = "mine"\n')
    assert problems == ()
    assert (values.text("meter"), values.text("groove")) == ("5+4/8", "mine")
    _, (problem,) = read_settings('meter = "4/5"\n')
    assert problem.line == 1


def test_a_turn_goes_from_a_text_of_ones_own_to_the_choices() -> None:
    meter = setting_named("meter")
    assert [meter.turned("7+4/8", steps) for steps in (-1, 1, 2)] == [meter.choices[0], *meter.choices[:2]]
