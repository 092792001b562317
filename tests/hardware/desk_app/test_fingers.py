"""Every key of the computer makes exactly the gesture of its row in the keymap, by the box's own recognition."""

from __future__ import annotations

import pytest

from firmware.events import Event, KeyDown, PanelKey, Tick
from firmware.screens.gestures import Control, Gesture, GestureState, Kind, step
from firmware.screens.meanings import MEANINGS
from firmware.units import RATE
from hardware.desk_app.fingers import Fingers
from hardware.desk_app.keymap import AMOUNT, BY_KEY, STROKES, Stroke
from hardware.simulated.panel import SimulatedPanel


class Hands:
    """Fingers on a panel, and what the box makes of its events."""

    def __init__(self) -> None:
        self.now = 0
        self.events: list[Event] = []
        self.panel = SimulatedPanel()
        self.panel.start(self.events.append, lambda: self.now)
        self.fingers = Fingers(self.panel)

    def strokes(self, *keys: str) -> None:
        for key in keys:
            assert self.fingers.stroke(key)

    def wait(self, seconds: float) -> None:
        """Let time pass as the desk does, in steps of 40 ms with a tick at each."""
        for _ in range(round(seconds / 0.04)):
            self.now += RATE // 25
            self.panel.pump(self.now)
            self.events.append(Tick(self.now))

    def gestures(self) -> list[Gesture]:
        state, done = GestureState(), []
        for event in self.events:
            state, gestures = step(state, event)
            done.extend(gestures)
        return done

    def kinds(self) -> list[tuple[Control, Kind, int]]:
        return [(gesture.control, gesture.kind, gesture.amount) for gesture in self.gestures()]


@pytest.fixture
def hands() -> Hands:
    return Hands()


@pytest.mark.parametrize("stroke", STROKES, ids=lambda stroke: stroke.shown)
def test_a_stroke_makes_the_gesture_of_its_row(hands: Hands, stroke: Stroke):
    hands.strokes(stroke.keys[0])
    hands.wait(1.5)
    made = hands.kinds()
    assert made[0] == (stroke.control, stroke.kind, stroke.steps)
    assert made[1:] == []


def test_every_gesture_that_means_something_can_be_made():
    made = {(stroke.control, stroke.kind) for stroke in STROKES}
    # By the prefix, by Compare's second stroke, and by tapping Pulse while its tempo is tapped.
    made |= {(control, Kind.AMOUNT) for control, _ in made if control.value in {key.value for key in PanelKey}}
    made |= {(Control.COMPARE, Kind.UP), (Control.PULSE, Kind.TEMPO_TAP)}
    made |= {(Control.DRONE, Kind.NOTE)}  # by the keys of a MIDI keyboard
    assert made >= set(MEANINGS)


def test_no_key_has_two_meanings():
    keys = [key for stroke in STROKES for key in stroke.keys]
    assert len(keys) == len(set(keys)) == len(BY_KEY)
    assert AMOUNT not in keys


@pytest.mark.parametrize(("letter", "key"), list(zip("dcpetr", PanelKey, strict=True)))
def test_the_prefix_makes_the_knob_turn_a_keys_amount(hands: Hands, letter: str, key: PanelKey):
    hands.strokes(AMOUNT, letter, "right", "right", "left")
    control = Control(key.value)
    amounts = [entry for entry in hands.kinds() if entry[1] is Kind.AMOUNT]
    assert amounts == [(control, Kind.AMOUNT, 1), (control, Kind.AMOUNT, 1), (control, Kind.AMOUNT, -1)]
    assert not [entry for entry in hands.kinds() if entry[1] in {Kind.TURN, Kind.TAP, Kind.HOLD}]
    assert key.value in hands.fingers.note
    hands.strokes(AMOUNT, "right")
    assert hands.kinds()[-1] == (Control.KNOB, Kind.TURN, 1)
    assert hands.fingers.note == ""


def test_the_prefix_is_taken_back_by_itself_by_escape_and_by_a_key_without_an_amount(hands: Hands):
    for last in (AMOUNT, "escape", "right"):
        hands.strokes(AMOUNT)
        assert "letter" in hands.fingers.note
        hands.strokes(last)
        assert hands.fingers.amount is None
        assert hands.fingers.note == ""
    hands.strokes("d")
    assert hands.kinds() == [(Control.DRONE, Kind.TAP, 0)]


def test_compare_stays_down_until_its_second_stroke(hands: Hands):
    hands.strokes("c")
    hands.wait(2)
    assert hands.kinds() == [(Control.COMPARE, Kind.DOWN, 0)]
    assert "Compare is down" in hands.fingers.note
    hands.strokes("c")
    assert hands.kinds()[-1] == (Control.COMPARE, Kind.UP, 0)
    assert hands.fingers.note == ""


def test_a_tapped_tempo_is_tapped_on_the_pulse_key(hands: Hands):
    hands.strokes("P")
    hands.wait(1.2)
    for _ in range(3):
        hands.strokes("p")
        hands.wait(0.6)
    assert [kind for _, kind, _ in hands.kinds()].count(Kind.TEMPO_TAP) == 3


def test_a_key_that_repeats_while_it_is_held_down_presses_once(hands: Hands):
    hands.strokes("D", "D", "D")
    hands.wait(1.5)
    assert len([event for event in hands.events if isinstance(event, KeyDown)]) == 1
    assert hands.kinds() == [(Control.DRONE, Kind.HOLD, 0)]


def test_a_key_without_a_meaning_does_nothing(hands: Hands):
    assert not hands.fingers.stroke("z")
    assert hands.events == []
