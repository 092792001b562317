"""Two generations of settings: whatever spoils one, the other is used."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.errors import DeviceError
from firmware.settings import DEFAULTS, read_settings, write_settings
from hardware.drivers.kept_settings import SETTINGS, SETTINGS_BEFORE, is_whole, keep_settings, kept_settings
from hardware.simulated.stick import SimulatedStick

OLD = write_settings(DEFAULTS.put("a4", 441.0))
NEW = write_settings(DEFAULTS.put("a4", 442.0))


@pytest.fixture
def stick(tmp_path: Path) -> SimulatedStick:
    return SimulatedStick(tmp_path / "KEELNOTE")


def test_the_last_saved_are_used_and_the_ones_before_are_kept(stick: SimulatedStick) -> None:
    assert kept_settings(stick).text is None
    for text in (OLD, NEW, NEW):
        keep_settings(stick, text)
    assert kept_settings(stick).text == NEW
    assert stick.read_text(SETTINGS_BEFORE) == OLD


@pytest.mark.parametrize("spoiled", [None, "", "\0" * 500, NEW[:40], NEW[:400] + "\0" * 112, "\ufffdPNG\r\n"])
def test_spoiled_ones_give_way_to_those_before_and_never_replace_them(
    stick: SimulatedStick, spoiled: str | None
) -> None:
    keep_settings(stick, OLD)
    keep_settings(stick, NEW)
    stick.remove(SETTINGS)
    if spoiled is not None:
        stick.write_text(SETTINGS, spoiled)
    kept = kept_settings(stick)
    assert (kept.text, kept.source) == (OLD, SETTINGS_BEFORE)
    assert SETTINGS_BEFORE in kept.why
    keep_settings(stick, NEW)
    assert (stick.read_text(SETTINGS), stick.read_text(SETTINGS_BEFORE)) == (NEW, OLD)


def test_a_folder_of_its_name_gives_way_too(stick: SimulatedStick) -> None:
    stick.write_text(SETTINGS_BEFORE, OLD)
    (stick.root / SETTINGS).mkdir()
    assert kept_settings(stick).text == OLD
    with pytest.raises(DeviceError, match=SETTINGS):
        keep_settings(stick, NEW)


def test_a_few_lines_written_by_hand_are_whole() -> None:
    assert is_whole("a4 = 442.0\nnonsense\n")
    assert not is_whole("# a4 is 442\n")


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=400), st.integers(0, len(NEW)))
def test_whatever_lies_there_the_settings_are_read(stick: SimulatedStick, junk: bytes, cut: int) -> None:
    keep_settings(stick, OLD)
    (stick.root / SETTINGS).write_bytes(NEW.encode()[:cut] + junk)
    kept = kept_settings(stick)
    values, _ = read_settings(kept.text or "", kept.source)
    assert values.number("a4") in {440.0, 441.0, 442.0} or kept.source == SETTINGS
