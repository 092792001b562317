"""The keeper: settings are written once they rest, and at the end."""

from __future__ import annotations

from firmware.commands import KeepSettings
from firmware.events import PowerDown, SettingChanged, Tick
from firmware.parts.keeper import KEEPER, REST
from firmware.parts.part import Start
from firmware.settings import read_settings


def test_settings_are_kept_once_they_have_rested() -> None:
    state = KEEPER.start(Start())
    state, follow = KEEPER.handlers[SettingChanged](state, SettingChanged(1000, "octave", 3))
    assert follow == ()
    assert KEEPER.handlers[Tick](state, Tick(1000 + REST - 1)) == (state, ())
    state, (command,) = KEEPER.handlers[Tick](state, Tick(1000 + REST))
    assert isinstance(command, KeepSettings)
    assert read_settings(command.text)[0].whole("octave") == 3
    assert KEEPER.handlers[Tick](state, Tick(10 * REST)) == (state, ())
    assert KEEPER.handlers[PowerDown](state, PowerDown(10 * REST)) == (state, ())
    assert KEEPER.show(state, 0)["values"]["octave"] == 3


def test_power_down_does_not_wait() -> None:
    state = KEEPER.start(Start())
    state, _ = KEEPER.handlers[SettingChanged](state, SettingChanged(0, "tempo", 100.0))
    _, (command,) = KEEPER.handlers[PowerDown](state, PowerDown(1))
    assert "tempo = 100.0" in command.text
