"""What the box was is found by the next process when one ended by itself, and by nobody after an orderly end."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.commands import KeepSettings, KeepState
from firmware.parts.part import Start
from firmware.settings import DEFAULTS, write_settings
from hardware.drivers.stick import FolderStick
from hardware.service.state import (
    MOST_TRIES,
    NAME,
    RESTARTED,
    SETTLED_SECONDS,
    CardSettings,
    State,
    StateKeeper,
    carried,
    own_folder,
    resumed,
)
from hardware.simulated.stick import SimulatedStick

IN_D = DEFAULTS.put("tonic", "D").put("drone_level", -12.0)


def keeper(folder: Path, now: float = 0.0) -> StateKeeper:
    return StateKeeper(folder, SimulatedStick(folder / "stick/KEELNOTE"), FolderStick(folder / "kept"), lambda: now)


def write(state: StateKeeper, *commands: KeepState | KeepSettings) -> None:
    state.start()
    for command in commands:
        state.keep(command)
    state.stop()


def test_the_latest_state_is_found_again(tmp_path: Path):
    write(keeper(tmp_path), KeepState(DEFAULTS, sounding=False), KeepState(IN_D, sounding=True))
    found = keeper(tmp_path).before()
    assert found == State(IN_D, sounding=True)
    start = resumed(Start(notices=("stick-out",)), found)
    assert (start.values, start.sounding, start.notices) == (IN_D, True, (RESTARTED, "stick-out"))


def test_after_an_orderly_end_there_is_nothing_to_take_up(tmp_path: Path):
    state = keeper(tmp_path)
    write(state, KeepState(IN_D, sounding=True))
    state.forget()
    state.forget()
    assert keeper(tmp_path).before() is None
    assert resumed(Start(), None) == Start()


def test_a_state_that_ends_every_process_at_once_is_left(tmp_path: Path):
    for _ in range(MOST_TRIES + 1):
        state = keeper(tmp_path)
        found = state.before()
        write(state, KeepState(IN_D, sounding=True))
    assert found is not None
    assert keeper(tmp_path).before() is None


def test_a_process_that_went_on_for_a_while_did_not_end_because_of_it(tmp_path: Path):
    seconds = [0.0]
    for _ in range(3 * MOST_TRIES):
        state = StateKeeper(tmp_path, SimulatedStick(tmp_path / "stick/KEELNOTE"), None, lambda: seconds[0])
        state.before()
        seconds[0] += SETTLED_SECONDS + 1
        write(state, KeepState(IN_D, sounding=True))
    assert keeper(tmp_path).before() is not None


def test_a_drone_that_sounds_goes_on_when_a_stick_comes_and_else_the_sticks_settings_count():
    sticks = Start(DEFAULTS.put("tonic", "F"))
    assert carried(sticks, None) == sticks
    assert carried(sticks, State(IN_D, sounding=False)) == sticks
    on = carried(sticks, State(IN_D, sounding=True))
    assert (on.values.text("tonic"), on.sounding, on.notices) == ("D", True, ())


def test_settings_are_kept_on_the_card_only_while_there_is_no_stick(tmp_path: Path):
    state = keeper(tmp_path)
    command = KeepSettings(write_settings(IN_D))
    write(state, command)
    assert state.settings() == CardSettings()
    state._stick.pull_out()  # type: ignore[attr-defined] - the simulated one
    write(state, command)
    assert state.settings() == CardSettings(IN_D)
    write(state, KeepSettings(write_settings(DEFAULTS)))
    assert state.settings() == CardSettings(DEFAULTS)
    (tmp_path / "kept/settings.toml").write_bytes(bytes(512))
    assert state.settings() == CardSettings(IN_D, before=True), "the last ones are damaged: those before"


def test_a_folder_that_can_not_be_written_is_said_and_ends_nothing(tmp_path: Path):
    state = StateKeeper(tmp_path / "none", SimulatedStick(tmp_path / "stick/KEELNOTE"))
    write(state, KeepState(DEFAULTS, sounding=True))
    assert "No such file" in state.error
    assert StateKeeper(None, state._stick).before() is None
    write(StateKeeper(None, state._stick), KeepState(DEFAULTS, sounding=True))


@given(st.binary(max_size=200))
def test_bad_bytes_are_no_state(tmp_path_factory: pytest.TempPathFactory, data: bytes):
    folder = tmp_path_factory.mktemp("state")
    (folder / NAME).write_bytes(data)
    assert keeper(folder).before() is None


@pytest.mark.parametrize("found", [[], {}, {"tries": 0}, {"tries": "x", "settings": "", "sounding": True}, 7, None])
def test_another_text_is_no_state(tmp_path: Path, found: object):
    (tmp_path / NAME).write_text(json.dumps(found))
    assert keeper(tmp_path).before() is None


def test_the_managers_folder_is_used(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("RUNTIME_DIRECTORY", "/run/keelnote:/run/other")
    assert own_folder() == Path("/run/keelnote")
    monkeypatch.delenv("RUNTIME_DIRECTORY")
    assert own_folder() is None
