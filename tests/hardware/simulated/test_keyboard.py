"""The simulated keyboard says nothing when it is not there."""

from __future__ import annotations

from hardware.simulated.keyboard import SimulatedKeyboard


def test_nothing_comes_from_a_keyboard_that_is_not_plugged_in():
    posted = []
    keyboard = SimulatedKeyboard()
    keyboard.start(posted.append, lambda: 0)
    keyboard.press(60)
    keyboard.sustain(down=True)
    keyboard.pull_out()
    keyboard.send(b"\xf7")
    assert posted == keyboard.sent == []


def test_what_is_down_is_let_go_by_the_one_event():
    posted = []
    keyboard = SimulatedKeyboard()
    keyboard.start(posted.append, lambda: 0)
    keyboard.plug_in()
    keyboard.press(60)
    keyboard.pull_out()
    keyboard.release(60)
    assert [type(event).__name__ for event in posted] == ["KeyboardChanged", "NoteOn", "KeyboardChanged"]
