"""Each action of a script moves the panel as its name says, when its time has come."""

import pytest

from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey, Pedal, PedalDown, PedalUp
from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn, SustainChanged
from firmware.units import RATE
from hardware.simulated.cues import MOVEMENTS, Hands, Keys
from hardware.simulated.keyboard import NAME, SimulatedKeyboard
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.script import ACTIONS, KEYBOARD_ACTIONS, Cue

WANTED = {
    "tap": [KeyDown(0, PanelKey.EAR), KeyUp(3840, PanelKey.EAR)],
    "hold": [KeyDown(0, PanelKey.EAR), KeyUp(24_000, PanelKey.EAR)],
    "press": [KeyDown(0, PanelKey.EAR)],
    "release": [],
    "turn": [KnobTurn(0, -1), KnobTurn(2880, -1)],
    "push": [KnobDown(0), KnobUp(3840)],
    "push_turn": [KnobDown(0), KnobTurn(2880, -1), KnobTurn(5760, -1), KnobUp(8640)],
    "pedal": [PedalDown(0, Pedal.LEFT), PedalUp(3840, Pedal.LEFT)],
    "hold_turn": [
        KeyDown(0, PanelKey.EAR),
        KnobTurn(2880, -1),
        KnobTurn(5760, -1),
        KeyUp(8640, PanelKey.EAR),
    ],
}


class Stage:
    """Hands on a panel, and the clock."""

    def __init__(self, *cues: Cue) -> None:
        self.now = 0
        self.events: list[Event] = []
        panel = SimulatedPanel()
        panel.start(self.events.append, lambda: self.now)
        self.hands = Hands(panel, cues)

    def at(self, now: int) -> list[Event]:
        self.now = now
        self.hands.pump(now)
        return self.events


def test_every_action_of_a_script_is_a_movement():
    assert set(MOVEMENTS) == set(ACTIONS) - set(KEYBOARD_ACTIONS) == set(WANTED)


@pytest.mark.parametrize("action", WANTED)
def test_a_movement(action: str):
    stage = Stage(Cue(0.0, action, "left" if action == "pedal" else "Ear", -2, 0.5))
    stage.at(0)
    assert stage.at(2 * RATE) == WANTED[action]


def test_cues_wait_for_their_time():
    stage = Stage(Cue(0.5, "press", "Drone"), Cue(0.5, "release", "Drone"), Cue(1.0, "push"))
    assert stage.at(RATE // 2 - 1) == []
    assert stage.at(RATE // 2) == [KeyDown(24_000, PanelKey.DRONE), KeyUp(24_000, PanelKey.DRONE)]
    assert stage.hands.left == 1
    assert stage.at(RATE)[2:] == [KnobDown(RATE)]
    assert stage.hands.left == 0


def test_the_keyboard_is_played_by_cues_and_plugged_in_by_its_first_note():
    now, told = 0, []
    keyboard = SimulatedKeyboard()
    keyboard.start(told.append, lambda: now)
    cues = (
        Cue(0.0, "note", "D4", seconds=0.5),
        Cue(0.1, "sustain", "down"),
        Cue(0.1, "tap", "Ear"),
        Cue(0.2, "note", "F♯4", seconds=9.0),
        Cue(1.0, "keyboard", "out"),
        Cue(1.1, "keyboard", "in"),
    )
    keys = Keys(keyboard, cues)
    for now in range(0, 2 * RATE, 512):
        keys.pump(now)
    assert told == [
        KeyboardChanged(0, present=True, name=NAME),
        NoteOn(0, 62),
        SustainChanged(5120, down=True),
        NoteOn(9728, 66),
        NoteOff(24064, 62),
        KeyboardChanged(48128, present=False, name=NAME),
        KeyboardChanged(53248, present=True, name=NAME),
    ]
