"""The keeper: settings are written once they rest, and at the end."""

from __future__ import annotations

from firmware.commands import KeepSettings, KeepState
from firmware.events import HarmonyChanged, PowerDown, SettingChanged, Tick
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.parts.keeper import KEEPER, REST
from firmware.parts.part import Start
from firmware.settings import read_settings


def test_settings_are_kept_once_they_have_rested() -> None:
    state = KEEPER.start(Start())
    state, follow = KEEPER.handlers[SettingChanged](state, SettingChanged(1000, "octave", 3))
    assert follow == (KeepState(state.values, sounding=False),)
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


def test_the_state_is_kept_at_once_when_the_drone_begins_and_ends() -> None:
    state, kept = KEEPER.start(Start()), []
    for sounding in (False, True, True, False):
        event = HarmonyChanged(0, Harmony(key_of("D", "major")), (), sounding)
        state, follow = KEEPER.handlers[HarmonyChanged](state, event)
        kept += follow
    assert kept == [KeepState(state.values, sounding=True), KeepState(state.values, sounding=False)]
