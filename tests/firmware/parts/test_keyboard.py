"""The MIDI keyboard in a whole box."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.box import Box
from firmware.commands import SendMidi
from firmware.events import Adjusted, Event, KeyDown, KeyUp, PanelKey, SwitchedOn, Tick, Wish, Wished
from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn, SustainChanged
from firmware.music.midi_tuning import read_tuning
from firmware.parts.keyboard import MOST_NOTES
from firmware.parts.part import Start
from firmware.settings import DEFAULTS, Value
from firmware.units import RATE


def box_with(**values: Value) -> Box:
    kept = DEFAULTS
    for name, value in ({"tonic": "C"} | values).items():
        kept = kept.put(name, value)
    box = Box(Start(kept))
    box.handle(SwitchedOn(0))
    return box


def played(box: Box, *events: Event) -> list[float]:
    for event in events:
        box.handle(event)
    return sorted(tone.hz for tone in box.sound.keyboard.tones) if box.sound.keyboard.on else []


def sent(box: Box, *events: Event) -> list[bytes]:
    return [c.message for event in events for c in box.handle(event) if isinstance(c, SendMidi)]


def test_a_note_sounds_while_its_key_is_down():
    box = box_with()
    assert played(box, NoteOn(1, 60)) == [pytest.approx(261.6256, abs=1e-3)]  # C4 at A4 = 440 (ISO 16)
    assert played(box, NoteOff(2, 60)) == []


def test_a_third_is_just_in_the_key():
    low, high = played(box_with(), NoteOn(1, 60), NoteOn(2, 64))
    assert high / low == pytest.approx(5 / 4, abs=1e-12)


def test_softer_touch_is_softer():
    box = box_with()
    played(box, NoteOn(1, 60, 127), NoteOn(2, 67, 30))
    loud, soft = (tone.level_db for tone in box.sound.keyboard.tones)
    assert soft < loud <= 0


def test_sustain_holds_what_is_let_go_and_lets_it_go_in_the_end():
    box = box_with()
    held = played(box, NoteOn(1, 60), SustainChanged(2, down=True), NoteOff(3, 60), NoteOn(4, 64), NoteOff(5, 64))
    assert len(held) == 2
    assert len(played(box, NoteOn(6, 60))) == 2
    assert len(played(box, SustainChanged(7, down=False))) == 1
    assert played(box, NoteOff(8, 60)) == []


def test_an_unplugged_keyboard_leaves_nothing_hanging():
    box = box_with()
    played(box, NoteOn(1, 60), SustainChanged(2, down=True), NoteOn(3, 64), NoteOff(4, 64))
    assert played(box, KeyboardChanged(5, present=False)) == []
    assert played(box, NoteOn(6, 60), NoteOff(7, 60)) == []


def test_the_chord_follows():
    box = box_with(keyboard_follows="tonic")
    d, _, a = played(box, NoteOn(1, 62), NoteOn(2, 65), NoteOn(3, 69))
    assert a / d == pytest.approx(3 / 2, abs=1e-12)
    box.handle(Adjusted(4, "keyboard_follows", -1))
    d, _, a = played(box)
    assert 1200 * math.log2(a / d) == pytest.approx(680.449, abs=1e-3)


def test_another_key_retunes_what_is_held():
    box = box_with()
    before = played(box, NoteOn(1, 62))
    assert played(box, Adjusted(2, "tonic", 1)) != before


@pytest.mark.parametrize(
    ("notes", "tonic", "mode"), [((65,), "F", "major"), ((62, 65), "D", "minor"), ((62, 66), "D", "major")]
)
def test_with_the_drone_key_down_a_note_is_the_tonic_and_its_third_the_mode(notes, tonic, mode):
    box = box_with()
    box.handle(KeyDown(0, PanelKey.DRONE))
    for at, note in enumerate(notes, 10):
        assert played(box, NoteOn(at, note)) == []
    for at, note in enumerate(notes, 20):
        box.handle(NoteOff(at, note))
    box.handle(KeyUp(100, PanelKey.DRONE))
    assert (box.view(100).tonic, box.view(100).mode) == (tonic, mode)
    # The key was spent on the note: its release is no tap.
    assert not box.view(100).drone_on


@pytest.mark.parametrize("long", [False, True])
def test_giving_the_tonic_leaves_the_drone_as_it_was(long):
    box = box_with()
    box.handle(Wished(0, Wish.DRONE_TOGGLE))
    box.handle(KeyDown(1, PanelKey.DRONE))
    at = RATE if long else 100
    box.handle(Tick(at))
    box.handle(NoteOn(at + 1, 67))
    box.handle(KeyUp(at + 2, PanelKey.DRONE))
    assert box.view(at).drone_on
    assert box.view(at).tonic == "G"


def test_the_tuning_is_sent_once_and_again_when_it_changes_or_an_instrument_comes():
    box = box_with()
    (first,) = sent(box, Adjusted(1, "tuning_out", 1))
    third = read_tuning(first).scale[4]
    assert third == pytest.approx(-13.686, abs=0.007)  # 5:4 against 400 cents (Helmholtz tr. Ellis, app. XX)
    assert sent(box, Wished(2, Wish.DRONE_TOGGLE), NoteOn(3, 60)) == []
    assert len(sent(box, Adjusted(4, "tonic", 1))) == 1
    assert len(sent(box, KeyboardChanged(5, present=True, name="keys"))) == 1
    assert sent(box, Adjusted(6, "tuning_out", -1), Adjusted(7, "tonic", 1)) == []


notes = st.integers(0, 127)
events = st.one_of(
    st.builds(NoteOn, st.just(1), notes, st.integers(1, 127)),
    st.builds(NoteOff, st.just(1), notes),
    st.builds(SustainChanged, st.just(1), st.booleans()),
    st.builds(KeyboardChanged, st.just(1), st.booleans()),
    st.builds(Adjusted, st.just(1), st.sampled_from(["tonic", "keyboard_follows", "tuning_out"]), st.integers(-2, 2)),
)


@settings(max_examples=40, deadline=None)
@given(st.lists(events, max_size=40))
def test_whatever_is_played_nothing_hangs(played_events):
    box = box_with()
    for event in played_events:
        box.handle(event)
        assert len(box.sound.keyboard.tones) <= MOST_NOTES
    down = {event.note for event in played_events if isinstance(event, NoteOn)}
    box.handle(SustainChanged(2, down=False))
    for note in down:
        box.handle(NoteOff(3, note))
    assert not box.sound.keyboard.on
