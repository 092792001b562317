"""The loop with threads on a simulated card: keys to sound and screen, takes to the sample, faults that end nothing."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.parts.part import Start
from firmware.screens.frame import Frame
from firmware.units import BLOCK, RATE, Samples
from hardware.desk import live_box
from hardware.drivers.stick import FolderStick
from hardware.live_loop import LiveLoop
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.sound_card import LoopedMicrophone, SimulatedSoundCard
from hardware.tape import Tape

Eventually = Callable[..., None]
REHEARSAL = "KEELNOTE/rehearsals/0001"


class Desk:
    """A live box on a simulated card."""

    def __init__(self, folder: Path, card: SimulatedSoundCard, microphone: Callable[[int], Samples] | None) -> None:
        self.card = card
        self.folder = folder
        self.panel = SimulatedPanel()
        self.screen = SimulatedScreen()
        stick = FolderStick(folder / "KEELNOTE")
        self.loop: LiveLoop = live_box(stick, self.screen, Start(stick=True), card, microphone)

    def start(self) -> None:
        self.panel.start(self.loop.post, self.loop.now)
        self.loop.start()

    def tap(self, key: str) -> None:
        self.panel.press(key)
        self.panel.release(key)

    def take(self) -> Samples:
        sound, rate = soundfile.read(self.folder / REHEARSAL / "take-01.flac", dtype="float32")
        assert rate == RATE
        return sound


def coded(count: int) -> Samples:
    """Samples that FLAC's 24 bits hold exactly, no stretch like another."""
    steps = np.random.default_rng(1).integers(-(2**22), 2**22, count)
    return (steps / 2.0**23).astype(np.float32)


SPOKEN = coded(6 * RATE)


@pytest.fixture
def desk(tmp_path: Path, card: SimulatedSoundCard) -> Iterator[Desk]:
    desk = Desk(tmp_path, card, LoopedMicrophone(SPOKEN).read)
    yield desk
    desk.loop.stop()


def loudest(card: SimulatedSoundCard) -> float:
    return float(np.abs(card.last_output).max())


def test_a_key_is_heard_and_seen_and_heard_no_more(desk: Desk, eventually: Eventually):
    desk.start()
    eventually(lambda: desk.screen.shown, "a picture")
    silent = desk.screen.last_frame
    assert loudest(desk.card) == 0
    desk.tap("Drone")
    eventually(lambda: loudest(desk.card) > 0.01, "the drone")
    eventually(lambda: desk.screen.last_frame != silent, "another picture")
    desk.tap("Drone")
    eventually(lambda: loudest(desk.card) == 0, "silence")
    assert (desk.loop.faults, desk.loop.dropped, desk.loop.card.lost) == (0, 0, 0)


def test_a_take_is_the_microphone_to_the_sample_from_before_the_key(desk: Desk, eventually: Eventually):
    desk.start()
    eventually(lambda: desk.loop.now() > RATE, "a second")
    desk.tap("Take")
    pressed = desk.loop.now()
    eventually(lambda: desk.loop.now() > pressed + RATE, "another second")
    desk.tap("Take")
    stopped = desk.loop.now()
    eventually(lambda: desk.loop.now() > stopped + RATE // 2, "half a second")
    desk.loop.stop()
    take = desk.take()
    # The pre-roll of 8 s is longer than the loop has run, so the take begins with the very first sample.
    assert pressed + RATE <= len(take) <= stopped + BLOCK
    assert np.array_equal(take, SPOKEN[: len(take)])
    assert desk.loop.dropped == 0


def test_a_take_that_runs_when_the_rehearsal_ends_is_kept_whole(desk: Desk, eventually: Eventually):
    desk.start()
    desk.tap("Take")
    eventually(lambda: desk.loop.now() > RATE, "a second")
    ended = desk.loop.now()
    desk.loop.stop()
    take = desk.take()
    assert len(take) >= ended
    assert np.array_equal(take, SPOKEN[: len(take)])
    names = {path.name for path in (desk.folder / REHEARSAL).iterdir()}
    assert {"take-01.flac", "take-01.vtt", "log.jsonl", "sheet.html"} <= names


def test_what_the_tape_drops_is_counted_and_leaves_the_take_on_the_clock(desk: Desk, eventually: Eventually):
    desk.loop._tape = Tape(slots=4)
    desk.start()
    desk.tap("Take")
    eventually(lambda: desk.loop.now() > RATE // 2, "half a second")
    real, held = desk.loop._listener.hear, threading.Event()

    def slow(mic: Samples, own: Samples) -> None:
        held.wait(10)
        real(mic, own)

    desk.loop._listener.hear = slow  # type: ignore[method-assign] - a listener that is held up
    eventually(lambda: desk.loop.dropped > 20, "dropped blocks")
    held.set()
    eventually(lambda: len(desk.loop._tape) == 0, "an empty tape")
    later = desk.loop.now()
    eventually(lambda: desk.loop.now() > later + RATE // 2, "half a second more")
    desk.loop.stop()
    take = desk.take()
    spoken = SPOKEN[: len(take)]
    lost = take != spoken
    assert abs(np.count_nonzero(lost) - desk.loop.dropped * BLOCK) <= BLOCK
    assert not take[lost].any(), "what was lost is silence"
    assert np.array_equal(take[-RATE // 4 :], spoken[-RATE // 4 :]), "what comes after it is in its place"


def test_a_pulled_card_is_shown_and_the_sound_comes_back(desk: Desk, eventually: Eventually):
    desk.start()
    desk.tap("Drone")
    eventually(lambda: loudest(desk.card) > 0.01, "the drone")
    before = desk.screen.last_frame
    desk.card.pull_out()
    eventually(lambda: not desk.loop.card.sounding, "the loss")
    eventually(lambda: desk.screen.last_frame != before, "a message")
    now = desk.loop.now()
    eventually(lambda: desk.loop.now() > now + RATE // 4, "the clock runs on")
    desk.card.put_back()
    eventually(lambda: desk.loop.card.sounding, "the return")
    eventually(lambda: loudest(desk.card) > 0.01, "the drone again")


def test_a_fault_in_one_command_is_counted_and_told_and_ends_nothing(desk: Desk, eventually: Eventually):
    def broken(_: Frame) -> None:
        message = "glass"
        raise ZeroDivisionError(message)

    desk.screen.show = broken  # type: ignore[method-assign] - a screen driver with a fault of its own
    desk.start()
    eventually(lambda: desk.loop.faults > 2, "faults")
    assert desk.loop.last_fault == "ZeroDivisionError: glass"
    desk.tap("Drone")
    eventually(lambda: loudest(desk.card) > 0.01, "the drone all the same")


def test_without_a_recording_the_microphone_is_the_cards(
    tmp_path: Path, card: SimulatedSoundCard, eventually: Eventually
):
    desk = Desk(tmp_path, card, None)
    card.feed(SPOKEN)
    desk.start()
    desk.tap("Take")
    eventually(lambda: desk.loop.now() > RATE // 2, "half a second")
    desk.loop.stop()
    take = desk.take()
    first = int(np.flatnonzero(take[0] == SPOKEN)[0])  # the card ran, and heard, before the box was on it
    assert np.array_equal(take, SPOKEN[first : first + len(take)])


def test_stop_ends_every_thread_and_a_second_stop_does_nothing(desk: Desk, eventually: Eventually):
    before = {thread.name for thread in threading.enumerate()}
    desk.start()
    eventually(lambda: desk.loop.now() > 0, "sound")
    assert {"box", "listener", "sound card keeper"} <= {thread.name for thread in threading.enumerate()}
    desk.loop.stop()
    desk.loop.stop()
    assert {thread.name for thread in threading.enumerate()} == before
