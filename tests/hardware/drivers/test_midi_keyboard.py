"""What MIDI messages mean, and a system without MIDI."""

from __future__ import annotations

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.keyboard_events import NoteOff, NoteOn, SustainChanged
from firmware.selftest.signals import KeyboardsFound
from hardware.drivers.midi_keyboard import MidiKeyboards, events_of, rtmidi


@pytest.mark.parametrize(
    ("message", "meaning"),
    [
        (mido.Message("note_on", note=60, velocity=1), (NoteOn(5, 60, 1),)),
        # MIDI 1.0: note on with velocity 0 is note off.
        (mido.Message("note_on", note=60, velocity=0), (NoteOff(5, 60),)),
        (mido.Message("note_off", note=60, velocity=64), (NoteOff(5, 60),)),
        # MIDI 1.0: controller 64 is the damper pedal, off up to 63.
        (mido.Message("control_change", control=64, value=63), (SustainChanged(5, down=False),)),
        (mido.Message("control_change", control=64, value=64), (SustainChanged(5, down=True),)),
        (mido.Message("control_change", control=1, value=64), ()),
        (mido.Message("program_change", program=3), ()),
        (mido.Message("clock"), ()),
    ],
)
def test_what_a_message_means(message, meaning):
    assert events_of(message, 5) == meaning


def test_all_notes_off_lets_everything_go():
    events = events_of(mido.Message("control_change", control=123), 1)
    assert events[0] == SustainChanged(1, down=False)
    assert {event.note for event in events[1:]} == set(range(128))


@given(st.binary(max_size=40))
def test_any_bytes_from_a_keyboard_are_read(data):
    # mido's parser is what its ports have inside.
    for message in mido.parse_all(data):
        events_of(message, 0)


def test_a_system_without_midi_is_said_and_nothing_stops():
    def none() -> None:
        raise OSError("no sequencer")

    keyboards = MidiKeyboards(none)
    keyboards._look(lambda _: None, lambda: 0)
    assert keyboards.trouble == "no MIDI: no sequencer"


class Port:
    """A port on which nothing is played."""

    def iter_pending(self) -> tuple[object, ...]:
        return ()

    def close(self) -> None:
        """Nothing to let go."""


class Two:
    """A system with two keyboards, of which another program holds one, and a port of its own."""

    def get_input_names(self) -> list[str]:
        return ["Pads", "Keys", "Midi Through"]

    def get_output_names(self) -> list[str]:
        return []

    def open_input(self, name: str) -> Port:
        if name == "Pads":
            raise OSError("busy")
        return Port()

    open_output = open_input


def test_what_the_first_look_found_is_told_with_what_refused():
    keyboards = MidiKeyboards(Two)
    keyboards.start(lambda _: None, lambda: 0)
    try:
        assert keyboards.found(7) == KeyboardsFound(7, ("Keys",), (("Pads", "busy"),), "Pads: busy")
    finally:
        keyboards.stop()


def test_the_real_library_says_so_where_there_is_no_midi(capfd):
    keyboards = MidiKeyboards(rtmidi)
    keyboards._look(lambda _: None, lambda: 0)
    keyboards.stop()
    assert keyboards.trouble == "" or keyboards.trouble.startswith("no MIDI: ")
    capfd.readouterr()  # ALSA speaks to the terminal


def test_where_no_keyboard_is_plugged_in_the_library_does_not_look_for_another_system():
    """RtMidi goes on from ALSA without ports to JACK, and its absence would count as no MIDI at all."""
    import rtmidi as library  # noqa: PLC0415 - beside its use

    expected = "LINUX_ALSA" if library.API_LINUX_ALSA in library.get_compiled_api() else None
    assert rtmidi().api == expected


def test_a_port_that_refuses_is_let_go():
    class Refusing:
        closed = False

        def iter_pending(self) -> None:
            raise OSError("gone")

        def send(self, _) -> None:
            raise OSError("gone")

        def close(self) -> None:
            raise OSError("gone")

    class Backend:
        def get_input_names(self) -> list[str]:
            return ["a", "b"]

        def get_output_names(self) -> list[str]:
            return ["a"]

        def open_input(self, name) -> Refusing:
            if name == "b":
                raise OSError("busy")
            return Refusing()

        def open_output(self, _) -> Refusing:
            return Refusing()

    posted = []
    keyboards = MidiKeyboards(Backend)
    keyboards._look(posted.append, lambda: 0)
    assert keyboards.trouble == "b: busy"
    keyboards._tell(b"\xf0\x7f\xf7")
    assert not keyboards._outputs
    keyboards._ask("a", keyboards._inputs["a"], posted.append, lambda: 0)
    assert [event.present for event in posted] == [True, False]
