"""Every error names the thing, the value, what is allowed and the way out, and can be caught as the builtin it is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import BadEntryError, BadFileError, DeviceError, KeelnoteError, OutOfRangeError, UnknownNameError
from firmware.messages import BY_CODE


def test_an_error_reads_as_one_line_with_all_four() -> None:
    error = KeelnoteError("tempo", 900, "20 to 300", "Turn it down.")
    assert str(error) == error.text == "tempo 900 is not accepted: 20 to 300. Turn it down."


def test_without_a_remedy_it_ends_with_what_is_allowed() -> None:
    assert KeelnoteError("tempo", 900, "20 to 300").text == "tempo 900 is not accepted: 20 to 300."


def test_an_unknown_name_lists_the_known_ones_and_the_nearest() -> None:
    error = UnknownNameError("mode", "dorain", ("major", "minor", "dorian"))
    assert error.text == ("mode 'dorain' is not accepted: choose from major, minor, dorian. Did you mean 'dorian'?")
    assert UnknownNameError("mode", "xyz", ("major",)).remedy == ""


def test_a_bad_entry_names_file_line_and_key() -> None:
    error = BadEntryError("plan.toml", 12, "step.tempo", "fast", "a number")
    assert error.text == "plan.toml, line 12: step.tempo 'fast' is not accepted: a number."
    assert (error.source, error.line, error.key) == ("plan.toml", 12, "step.tempo")


@pytest.mark.parametrize(
    ("error", "builtin"),
    [
        (UnknownNameError("mode", "x", ()), LookupError),
        (OutOfRangeError("tempo", 900, "20 to 300"), ValueError),
        (BadFileError("a.wav", "text", "sound"), ValueError),
        (BadEntryError("a.toml", 1, "b", "c", "d"), BadFileError),
        (DeviceError("screen", "gone", "it must answer"), OSError),
    ],
)
def test_each_is_also_the_builtin_that_it_resembles(error: KeelnoteError, builtin: type[Exception]) -> None:
    assert isinstance(error, builtin)
    assert isinstance(error, KeelnoteError)
    assert str(error) == error.text


@pytest.mark.parametrize(
    "kind", [KeelnoteError, UnknownNameError, OutOfRangeError, BadFileError, BadEntryError, DeviceError]
)
def test_the_screen_has_a_line_for_each(kind: type[KeelnoteError]) -> None:
    assert kind.message in BY_CODE


def test_a_message_of_its_own_can_be_given() -> None:
    assert KeelnoteError("a", 1, "b", message="room").message == "room"
    assert UnknownNameError("a", 1, (), message="room").message == "room"


@given(st.text(), st.text() | st.integers() | st.none() | st.binary())
def test_any_value_can_be_named(thing: str, value: object) -> None:
    assert repr(value) in KeelnoteError(thing, value, "something else").text
    assert repr(value) in UnknownNameError(thing, value, ("one", "two")).text
