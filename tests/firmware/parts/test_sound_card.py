"""The kind of sound card that is asked for reaches the card, at the start and at each turn."""

from __future__ import annotations

from firmware.commands import AppendLine, ChooseCard
from firmware.events import Adjusted, Fault, SettingChanged, SwitchedOn
from firmware.parts.part import Start
from firmware.parts.sound_card import SOUND_CARD
from firmware.settings import DEFAULTS, setting_named
from firmware.units import RATE
from hardware.drivers.sound_devices import AUTO, KINDS


def test_the_setting_is_said_at_the_start() -> None:
    state = SOUND_CARD.start(Start(DEFAULTS.put("sound_card", "board")))
    assert SOUND_CARD.handlers[SwitchedOn](state, SwitchedOn(0)) == (state, (ChooseCard("board"),))


def test_a_turn_changes_it_at_once() -> None:
    state, follow = SOUND_CARD.handlers[Adjusted](SOUND_CARD.start(Start()), Adjusted(3, "sound_card", 1))
    assert follow == (SettingChanged(3, "sound_card", "usb"), ChooseCard("usb"))
    assert state.choice == ChooseCard("usb")


def test_what_befalls_it_stands_in_the_report_with_its_time() -> None:
    state = SOUND_CARD.start(Start())
    late = Fault(75 * RATE, "sound-late", "3 blocks came late or not at all")
    _, (line,) = SOUND_CARD.handlers[Fault](state, late)
    assert isinstance(line, AppendLine)
    assert line.path == "report.txt"
    assert line.line.startswith("1:15 The box was too slow")
    assert "3 blocks came late" in line.line
    assert SOUND_CARD.handlers[Fault](state, Fault(0, "stick-full", "")) == (state, ())


def test_the_driver_knows_every_kind_that_may_be_asked_for() -> None:
    assert setting_named("sound_card").choices == (AUTO, *KINDS)
