"""The keeper lets sound go on through a lost card, and never lets two sources call at once."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from firmware.units import Samples
from hardware.card_keeper import LATE_SECONDS, CardKeeper
from hardware.simulated.sound_card import QuietCard, SimulatedSoundCard

Eventually = Callable[..., None]


class Sound:
    """A process that notices when it is called twice at once."""

    def __init__(self) -> None:
        self.calls = 0
        self.clashes = 0
        self._inside = threading.Lock()

    def __call__(self, mic: Samples) -> Samples:
        if not self._inside.acquire(blocking=False):
            self.clashes += 1
            return np.zeros_like(mic)
        self.calls += 1
        self._inside.release()
        return np.full_like(mic, 0.25)


@pytest.fixture
def told() -> list[tuple[str, str]]:
    return []


@pytest.fixture
def sound() -> Sound:
    return Sound()


@pytest.fixture
def kept(card: SimulatedSoundCard, told: list[tuple[str, str]]) -> Iterator[CardKeeper]:
    keeper = CardKeeper(card, lambda *what: told.append(what))
    yield keeper
    keeper.stop()


def test_the_card_sounds_and_nothing_is_told(
    kept: CardKeeper, card: SimulatedSoundCard, sound: Sound, told: list[tuple[str, str]], eventually: Eventually
):
    kept.start(sound)
    eventually(lambda: sound.calls > 10, "calls")
    assert kept.sounding
    assert kept.status == card.summary
    assert card.last_output.max() == 0.25
    assert told == []
    assert kept.lost == 0


def test_a_pulled_card_is_told_the_clock_runs_on_and_it_comes_back(
    kept: CardKeeper, card: SimulatedSoundCard, sound: Sound, told: list[tuple[str, str]], eventually: Eventually
):
    kept.start(sound)
    eventually(lambda: sound.calls > 10, "calls")
    card.pull_out()
    eventually(lambda: not kept.sounding, "the loss")
    calls = sound.calls
    eventually(lambda: sound.calls > calls + 10, "calls by the stand-in")
    assert "No sound" in kept.status
    assert "stopped calling back" in kept.status
    card.put_back()
    eventually(lambda: kept.sounding, "the return")
    calls = sound.calls
    eventually(lambda: sound.calls > calls + 10, "calls by the card")
    eventually(lambda: card.last_output.max() == 0.25, "sound")
    assert [message for message, _ in told if message != "sound-late"] == ["sound-lost", "sound-back"]
    assert sound.clashes == 0


def test_without_a_card_it_begins_in_silence_and_finds_one_later(
    absent_card: SimulatedSoundCard, sound: Sound, told: list[tuple[str, str]], eventually: Eventually
):
    keeper = CardKeeper(absent_card, lambda *what: told.append(what))
    keeper.start(sound)
    try:
        assert "not plugged in" in keeper.status
        eventually(lambda: sound.calls > 5, "calls by the stand-in")
        absent_card.put_back()
        eventually(lambda: keeper.sounding, "the card")
        assert [message for message, _ in told] == ["sound-lost", "sound-back"]
    finally:
        keeper.stop()
    assert sound.clashes == 0


def test_a_card_that_opens_and_never_calls_back_is_lost_too(
    kept: CardKeeper, card: SimulatedSoundCard, sound: Sound, told: list[tuple[str, str]], eventually: Eventually
):
    card.pause.set()  # type: ignore[attr-defined] - the running card of conftest.py
    kept.start(sound)
    eventually(lambda: told, "the loss")
    assert told == [("sound-lost", "the card does not call back")]
    eventually(lambda: sound.calls > 5, "calls by the stand-in")


def test_stop_ends_all_calls_and_a_second_stop_does_nothing(kept: CardKeeper, sound: Sound, eventually: Eventually):
    kept.start(sound)
    eventually(lambda: sound.calls > 3, "calls")
    kept.stop()
    kept.stop()
    calls = sound.calls
    assert not any(thread.name == "sound card keeper" for thread in threading.enumerate())
    assert sound.calls == calls


def test_late_blocks_are_told_now_and_then_and_each_counted_once(told: list[tuple[str, str]]):
    card, time = SimulatedSoundCard(), [100.0]
    keeper = CardKeeper(card, lambda *what: told.append(what), QuietCard(), now=lambda: time[0])
    for lost, passed in ((0, 0.0), (2, 0.0), (3, 0.1), (3, LATE_SECONDS), (3, LATE_SECONDS)):
        card._lost = lost
        time[0] += passed
        keeper._tell_late()
    assert [(message, detail[:1]) for message, detail in told] == [("sound-late", "2"), ("sound-late", "1")]


def test_it_goes_over_to_a_better_card_and_tells_only_that_sound_is_back(
    kept: CardKeeper, card: SimulatedSoundCard, sound: Sound, told: list[tuple[str, str]], eventually: Eventually
):
    kept.start(sound)
    eventually(lambda: sound.calls > 10, "calls")
    card.plug_in_better()
    eventually(lambda: told, "the change")
    assert told == [("sound-back", card.name)]
    assert kept.sounding
    assert sound.clashes == 0
