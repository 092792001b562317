"""The catch part: a press takes the tonic or the key of the room, another the second guess, and nothing else does."""

from __future__ import annotations

import pytest

from firmware.commands import Listen
from firmware.events import Event, HarmonyChanged, Noticed, Tick, Wish, Wished
from firmware.heard_events import Heard, KeyCaught, PartialsHeard
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.parts.catch import AGAIN, CATCH, WAIT, CatchPart
from firmware.parts.part import Start, address_of
from firmware.units import RATE

HARMONY = Harmony(key_of("Bb", "major"))
HOP = 1920
FRAME = 7680
EFLAT = 2 * 155.563492
"""E♭4 in equal temperament from A4 = 440 Hz, in Hz."""


def run(*events: Event, state: CatchPart | None = None) -> tuple[CatchPart, list[object]]:
    state = state or CATCH.start(Start())
    follow: list[object] = []
    for event in (HarmonyChanged(0, HARMONY, (), sounding=False), *events):
        state, more = CATCH.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def note(hz: float, count: int, first: int = 0, confidence: float = 0.95) -> list[Heard]:
    return [Heard(first + n * HOP, hz, confidence, -20.0) for n in range(count)]


def bars(*chords: tuple[int, ...]) -> list[Event]:
    hz = [[440.0 * 2 ** ((midi - 69) / 12) for midi in chord] for chord in chords]
    return [PartialsHeard(n * FRAME, tuple((f, -20.0) for f in hz[n // 8])) for n in range(8 * len(chords))]


def press(at: int) -> Wished:
    return Wished(at, Wish.EAR_CATCH)


CADENCE = ((51, 67, 70, 75), (56, 68, 72, 75), (58, 65, 70, 74), (51, 67, 70, 75))
"""Tonic, subdominant, dominant, tonic of E♭ major."""


def test_a_press_takes_the_tonic_of_a_long_note_in_the_mode_that_is_set() -> None:
    state, follow = run(*note(EFLAT, 12))
    assert follow == []
    _, follow = run(press(12 * HOP), state=state)
    caught, notice = follow
    assert isinstance(caught, KeyCaught)
    assert (caught.key, caught.at) == (key_of("Eb", "major"), 12 * HOP)
    assert caught.confidence > 0.9
    assert notice == Noticed(12 * HOP, "caught", (("tonic", "E♭"), ("mode", "major")))


def test_a_press_takes_the_key_of_a_few_bars() -> None:
    _, follow = run(*bars(*CADENCE), press(33 * FRAME))
    assert follow[0].key == key_of("Eb", "major")
    assert follow[0].second is not None


@pytest.mark.parametrize("events", [note(EFLAT, 3), note(EFLAT, 12, confidence=0.2)])
def test_a_short_or_unclear_note_is_not_taken(events: list[Event]) -> None:
    assert run(*events, press(12 * HOP))[1] == [Noticed(12 * HOP, "nothing-to-catch")]


def test_what_is_unsure_offers_the_second_guess() -> None:
    quarter = 440.0 * 2 ** (0.4 / 12)
    first, again, third = 12 * HOP, 14 * HOP, 16 * HOP
    state, follow = run(*note(quarter, 12), press(first))
    assert follow[0].key.tonic.text == "A"
    assert follow[1].message == "caught-unsure"
    state, follow = run(*note(quarter, 2, first), press(again), state=state)
    assert follow[0].key.tonic.text == "B♭"
    state, follow = run(*note(quarter, 2, again), press(third), state=state)
    assert follow[0].key.tonic.text == "A"
    late = third + AGAIN
    _, follow = run(*note(quarter, 12, late), press(late + 12 * HOP), state=state)
    assert follow[0].key.tonic.text == "A"


def test_with_the_ear_off_it_waits_for_a_tonic_and_goes_off_again() -> None:
    at = 10 * RATE
    state, follow = run(press(at))
    assert follow == [Listen(on=True), Noticed(at, "catching")]
    state, follow = run(*note(EFLAT, 30, at + RATE), state=state)
    caught, _, off = follow
    assert caught.key.tonic.text == "E♭"
    assert caught.at - at - RATE <= 0.8 * RATE
    assert off == Listen(on=False)
    assert state.until == 0


def test_it_does_not_wait_for_ever() -> None:
    at = 10 * RATE
    state, _ = run(press(at))
    state, follow = run(Tick(at + WAIT - 1), Heard(at + 9, None, 0.0, -90.0, "silence"), state=state)
    assert follow == []
    state, follow = run(Tick(at + WAIT), state=state)
    assert follow == [Noticed(at + WAIT, "nothing-to-catch"), Listen(on=False)]
    assert run(Tick(at + 2 * WAIT), state=state)[1] == []


def test_bars_are_taken_when_the_wait_ends() -> None:
    state, _ = run(press(2 * RATE))
    state, follow = run(*bars(*CADENCE), Tick(2 * RATE + WAIT), state=state)
    assert follow[0].key == key_of("Eb", "major")
    assert follow[-1] == Listen(on=False)


def test_a_tap_of_the_key_ends_the_wait() -> None:
    state, _ = run(press(2 * RATE))
    state, follow = run(Wished(3 * RATE, Wish.EAR_NEXT), Tick(20 * RATE), state=state)
    assert follow == []
    assert state.until == 0


def test_before_a_harmony_is_known_nothing_is_caught() -> None:
    state = CATCH.start(Start())
    for event in (*bars(*CADENCE), *note(EFLAT, 12), press(12 * HOP)):
        state, follow = CATCH.handlers[address_of(event)](state, event)
    assert follow == (Noticed(12 * HOP, "nothing-to-catch"),)
