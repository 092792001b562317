"""The steps one by one, on evidence made by hand: the limits from which each fault is one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from firmware.events import Event
from firmware.hearing.hum import Hum
from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn
from firmware.selftest.ask import Do, Evidence
from firmware.selftest.finding import Finding
from firmware.selftest.signals import BusScanned, ClockRead, KeyboardsFound, SoundRecorded, StickMeasured, SupplyRead
from firmware.selftest.sound_figures import Heard, played
from firmware.selftest.step import Step, answer_key, once
from firmware.selftest.steps import sound
from firmware.selftest.steps.clock import STEP as CLOCK
from firmware.selftest.steps.contacts import STEP as CONTACTS
from firmware.selftest.steps.keyboards import STEP as KEYBOARDS
from firmware.selftest.steps.knob import STEP as KNOB
from firmware.selftest.steps.light import STEP as LIGHT
from firmware.selftest.steps.rest import STEP as REST
from firmware.selftest.steps.screen import STEP as SCREEN
from firmware.selftest.steps.sound import STEP as SOUND
from firmware.selftest.steps.stick import STEP as STICK
from firmware.selftest.steps.supply import STEP as SUPPLY
from firmware.selftest.steps.wires import STEP as WIRES
from tests.firmware.selftest.benches import BENCH, edges, evidence, press, probed
from tests.firmware.selftest.test_quadrature import turn


def codes(step: Step, *done: Evidence) -> list[str]:
    """Codes of what a step finds."""
    found: tuple[Finding, ...] = step.judge(BENCH, done)
    return [one.code for one in found]


def answered(do: Do, count: int) -> Evidence:
    """A question that was answered by so many presses."""
    times = [second for number in range(count) for second in (1.0 + 0.4 * number, 1.1 + 0.4 * number)]
    return evidence(do, *edges("key Drone", *times), choices=("1", "2", "3", "4"), key="key Drone", heard="key Drone")


@pytest.mark.parametrize(("sparks", "found"), [(1, []), (2, ["noisy"])])
def test_two_sparks_at_rest_are_noise(sparks: int, found: list[str]) -> None:
    times = [second for number in range(sparks) for second in (0.5 + 0.1 * number, 0.501 + 0.1 * number)]
    assert codes(REST, evidence(Do.HANDS_OFF, *edges("left pedal", *times))) == found


@pytest.mark.parametrize(("ms", "found"), [(4.0, []), (6.0, ["bounces"])])
def test_a_contact_may_bounce_as_long_as_the_driver_waits(ms: float, found: list[str]) -> None:
    end = 1.0 + ms / 1000
    one = evidence(Do.PRESS, *edges("key Ear", 1.0, (1.0 + end) / 2, end, 2.0), subject="key Ear")
    assert codes(CONTACTS, one) == found


def test_a_line_tied_to_3v3_is_not_pressed() -> None:
    done = (evidence(Do.HANDS_OFF), evidence(Do.PROBE, probed(key_Drone=(True, True))))
    ask = CONTACTS.next(BENCH, done)
    assert ask is not None
    assert ask.subject == "key Compare"
    assert codes(WIRES, *done) == ["tied"]


def test_a_pull_up_is_looked_for_where_the_pedal_is_open() -> None:
    open_at_rest = evidence(Do.PROBE, probed(left_pedal=(True, False)))
    assert codes(CONTACTS, open_at_rest) == ["no-pull-up"]
    closed = evidence(Do.PROBE, probed(left_pedal=(False, False)))
    opened = evidence(Do.PROBE, probed(left_pedal=(True, False)), subject="after left pedal")
    assert codes(CONTACTS, closed) == []
    assert codes(CONTACTS, closed, opened) == ["no-pull-up"]


@pytest.mark.parametrize(
    ("right", "left", "found"),
    [
        (10, -10, []),
        (9, -11, []),
        (-10, 10, ["knob-backwards"]),
        (5, -5, ["knob-half"]),
        (20, -19, ["knob-double"]),
        (8, -10, ["knob-loses"]),
        (10, -7, ["knob-loses"]),
    ],
)
def test_clicks_tell_the_kind_of_encoder(right: int, left: int, found: list[str]) -> None:
    lines = {"a": "knob a", "b": "knob b"}
    both = [
        evidence(do, *(replace(event, line=lines[event.line]) for event in turn(count)))
        for do, count in ((Do.TURN_RIGHT, right), (Do.TURN_LEFT, left))
    ]
    assert codes(KNOB, *both) == found


@pytest.mark.parametrize(
    ("scan", "found"),
    [
        (BusScanned(0, (0x3C, 0x68), 0.024), []),
        (BusScanned(0, (0x3C,), 0.049), []),
        (BusScanned(0, (0x3C,), 0.093), ["bus-slow"]),
        (BusScanned(0, (0x3D,)), ["screen-address"]),
        (BusScanned(0, (0x68,)), ["screen-silent"]),
        (BusScanned(0, ()), ["bus-silent"]),
        (BusScanned(0, tuple(range(8, 120))), ["bus-shorted"]),
        (BusScanned(0, (), None, "not there"), ["bus-off"]),
    ],
)
def test_the_bus_tells_what_is_wrong_with_it(scan: BusScanned, found: list[str]) -> None:
    assert codes(SCREEN, evidence(Do.SCAN, scan)) == found


def test_a_bus_without_a_clock_chip_can_only_say_that_the_screen_is_silent() -> None:
    (one,) = SCREEN.judge(replace(BENCH, clock=None), (evidence(Do.SCAN, BusScanned(0, ())),))
    assert one.code == "screen-silent"


def test_a_screen_on_spi_is_judged_by_eye_alone() -> None:
    on_spi = replace(BENCH, screen=None)
    done = (press("key Drone", "key Drone"), evidence(Do.SCAN, BusScanned(0, (), None, "no bus")))
    ask = SCREEN.next(on_spi, done)
    assert ask is not None
    assert ask.do is Do.LOOK
    assert SCREEN.judge(on_spi, done) == ()


@pytest.mark.parametrize(
    ("answer", "found"),
    [(1, []), (2, ["screen-upside-down"]), (3, ["screen-chip"]), (4, ["screen-dark"]), (0, ["unanswered"])],
)
def test_what_the_builder_sees_is_believed(answer: int, found: list[str]) -> None:
    assert codes(SCREEN, answered(Do.LOOK, answer)) == found


@pytest.mark.parametrize(
    ("answer", "found"), [(1, []), (2, ["led-dark"]), (3, ["led-lit"]), (4, ["led-inverted"]), (0, ["unanswered"])]
)
def test_the_light_is_judged_by_eye(answer: int, found: list[str]) -> None:
    assert codes(LIGHT, answered(Do.WATCH_LED, answer)) == found


@pytest.mark.parametrize(
    ("told", "found"),
    [
        (StickMeasured(0, "", 10**9, 2e6, 0.5), []),
        (StickMeasured(0, "", 10**9, 0.9e6, 0.5), ["stick-slow"]),
        (StickMeasured(0, "", 10**9, 2e6, 4.0), ["stick-stalls"]),
        (StickMeasured(0, "", 10**6, 2e6, 0.5), ["stick-full"]),
        (StickMeasured(0, "stick-out"), ["stick-out"]),
        (StickMeasured(0, "something new"), ["stick-error"]),
    ],
)
def test_a_stick_is_judged_by_its_figures(told: StickMeasured, found: list[str]) -> None:
    assert codes(STICK, evidence(Do.MEASURE_STICK, told)) == found


def test_a_stick_that_tells_nothing_refuses() -> None:
    assert codes(STICK, evidence(Do.MEASURE_STICK)) == ["stick-error"]


@pytest.mark.parametrize(
    ("told", "found"),
    [
        (SupplyRead(0, False, False, 60.0), []),  # noqa: FBT003 - fields of an event
        (SupplyRead(0, None, None), []),
        (SupplyRead(0, True, True, 60.0), ["supply-low"]),  # noqa: FBT003 - the same
        (SupplyRead(0, False, True, 79.0), ["supply-was-low", "hot"]),  # noqa: FBT003 - the same
    ],
)
def test_the_supply_is_judged_by_its_flags(told: SupplyRead, found: list[str]) -> None:
    assert codes(SUPPLY, evidence(Do.READ_SUPPLY, told)) == found


def test_a_clock_is_looked_for_only_where_one_is_fitted_and_the_bus_works() -> None:
    gone = evidence(Do.READ_CLOCK, ClockRead(0, there=False, running=False))
    stands = evidence(Do.READ_CLOCK, ClockRead(0, there=True, running=False))
    good = evidence(Do.READ_CLOCK, ClockRead(0, there=True, running=True))
    assert codes(CLOCK, gone) == ["clock-absent"]
    assert codes(CLOCK, stands) == ["clock-stopped"]
    assert codes(CLOCK, good) == []
    assert codes(CLOCK, evidence(Do.SCAN, BusScanned(0, ())), gone) == []
    assert CLOCK.next(replace(BENCH, clock=None), ()) is None


def test_no_keyboard_is_no_fault_and_asks_for_nothing() -> None:
    for none in (KeyboardsFound(0, ()), KeyboardsFound(0, (), trouble="no MIDI: no sequencer")):
        looked = evidence(Do.FIND_KEYBOARDS, none)
        assert KEYBOARDS.next(BENCH, (looked,)) is None
        assert codes(KEYBOARDS, looked) == []


def test_a_keyboard_is_named_and_asked_for_one_note() -> None:
    assert KEYBOARDS.next(BENCH, ()).do is Do.FIND_KEYBOARDS
    one = evidence(Do.FIND_KEYBOARDS, KeyboardsFound(0, ("Stage piano of the music room",)))
    two = evidence(Do.FIND_KEYBOARDS, KeyboardsFound(0, ("Keys", "Pads")))
    asked = KEYBOARDS.next(BENCH, (one,))
    assert (asked.do, asked.text) == (Do.PLAY_NOTE, "Play one note: Stage piano of the m")
    assert KEYBOARDS.next(BENCH, (two,)).text == "Play one note: one of 2 keyboards"
    assert KEYBOARDS.next(BENCH, (one, evidence(Do.PLAY_NOTE))) is None


@pytest.mark.parametrize(
    ("events", "found"),
    [
        ((NoteOn(1, 60), NoteOff(2, 60)), []),
        ((), ["keyboard-silent"]),
        ((NoteOff(2, 60),), ["keyboard-silent"]),
        ((NoteOn(1, 60), NoteOn(1, 64), NoteOff(2, 60)), ["keyboard-holds"]),
        ((NoteOn(1, 60), KeyboardChanged(2, present=False, name="Keys")), ["keyboard-gone"]),
        ((KeyboardChanged(2, present=True, name="Pads"), NoteOn(3, 60), NoteOff(4, 60)), []),
    ],
)
def test_a_keyboard_is_judged_by_its_note(events: tuple[Event, ...], found: list[str]) -> None:
    looked = evidence(Do.FIND_KEYBOARDS, KeyboardsFound(0, ("Keys",)))
    assert codes(KEYBOARDS, looked, evidence(Do.PLAY_NOTE, *events)) == found


def test_a_keyboard_that_can_not_be_opened_is_named_beside_one_that_plays() -> None:
    looked = evidence(Do.FIND_KEYBOARDS, KeyboardsFound(0, ("Keys",), (("Pads", "busy"),)))
    played_note = evidence(Do.PLAY_NOTE, NoteOn(1, 60), NoteOff(2, 60))
    assert KEYBOARDS.judge(BENCH, (looked, played_note)) == (
        Finding("keyboard-refused", (("keyboard", "Pads"), ("error", "busy"))),
    )


QUIET = Heard(peak=0.1, offset=0.0, floor_db=-66.0, hum=None, room=None, tone_hz=1000.0, rise_db=12.0)


@pytest.mark.parametrize(
    ("changes", "heard", "found"),
    [
        ({}, 1, ["mic-deaf"]),
        ({}, 2, ["output-silent"]),
        ({"peak": 0.0, "tone_hz": 0.0}, 1, ["mic-zero"]),
        ({"peak": 0.0, "tone_hz": 0.0}, 2, ["output-silent", "mic-zero"]),
        ({"floor_db": -47.0}, 1, ["noise", "mic-deaf"]),
        ({"hum": Hum(50.0, 50.0, -40.0), "floor_db": -40.0}, 1, ["hum", "mic-deaf"]),
        ({"offset": -0.03}, 1, ["mic-offset", "mic-deaf"]),
        ({"tone_hz": 1500.0}, 1, ["rates"]),
        ({}, 0, ["mic-deaf", "unanswered"]),
    ],
)
def test_what_is_heard_without_a_room_is_judged(
    monkeypatch: pytest.MonkeyPatch, changes: dict[str, object], heard: int, found: list[str]
) -> None:
    monkeypatch.setattr(sound, "hear_test", lambda _mic, _own: replace(QUIET, **changes))
    recorded = evidence(Do.RECORD, SoundRecorded(0, np.zeros(9, np.float32), played()))
    assert codes(SOUND, answered(Do.LISTEN, heard), recorded) == found


def test_a_card_that_gives_nothing_is_missing() -> None:
    assert codes(SOUND, answered(Do.LISTEN, 1), evidence(Do.RECORD)) == ["no-sound-card"]


def test_the_key_to_answer_with_is_one_that_works_alone() -> None:
    joined = press("key Drone", "key Drone", "key Ear")
    stuck = evidence(Do.PRESS, *edges("key Compare", 1.0), subject="key Compare")
    swapped = press("key Pulse", "key Take")
    assert answer_key(BENCH, (joined, stuck, swapped)) == ("key Pulse", "key Take")
    assert answer_key(BENCH, (joined, stuck)) == ("", "")


def test_a_step_that_wants_one_thing_wants_it_once() -> None:
    wants = once("x", Do.SCAN, patience=3.0)
    ask = wants(BENCH, ())
    assert ask is not None
    assert ask.patience == 3.0
    assert wants(BENCH, (evidence(Do.SCAN),)) is None
