"""The offline rehearsal keeps speaker and microphone on one clock, and hands and camera on theirs."""

import numpy as np
import pytest

from firmware.events import Event
from firmware.screens.frame import Frame
from firmware.units import BLOCK, RATE, Samples
from hardware.simulated.cues import Hands
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.rehearsal import Camera, Recording, Sinks, run_rehearsal
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.script import Cue, Shot


class HalvingLoop:
    """A box that plays back half of what it hears and shows how many blocks that were."""

    def __init__(self, screen: SimulatedScreen) -> None:
        self.now = 0
        self.screen = screen
        self.finished = 0

    def block(self, mic: Samples) -> Samples:
        self.now += len(mic)
        self.screen.show(Frame(bytes([self.now // BLOCK % 256]) * 1024))
        return mic * np.float32(0.5)

    def finish(self) -> None:
        self.finished += 1


class CountingMicrophone:
    """A microphone whose samples count the speaker blocks that it was given."""

    def __init__(self) -> None:
        self.speaker: list[Samples] = []

    def block(self, speaker: Samples) -> Samples:
        self.speaker.append(speaker)
        return np.full(len(speaker), len(self.speaker), np.float32)


def test_a_rehearsal_from_beginning_to_end():
    screen = SimulatedScreen()
    loop, microphone = HalvingLoop(screen), CountingMicrophone()
    events: list[Event] = []
    panel = SimulatedPanel()
    panel.start(events.append, lambda: loop.now)
    speaker: list[Samples] = []
    mic: list[Samples] = []
    told: list[float] = []
    camera = Camera(screen, (Shot(0.0, "first"), Shot(0.05, "later"), Shot(0.1, "last")))
    hands = Hands(panel, (Cue(0.0, "press", "Drone"), Cue(0.06, "press", "Ear")))
    sinks = Sinks(speaker.append, mic.append, told.append)
    seconds = run_rehearsal(loop, microphone, hands, camera, sinks, 0.1)
    assert seconds == 10 * BLOCK / RATE
    assert loop.finished == 1
    assert [block[0] for block in mic] == list(range(1, 11))
    assert [block[0] for block in speaker] == [number / 2 for number in range(1, 11)]
    assert not microphone.speaker[0].any()
    assert [block[0] for block in microphone.speaker[1:]] == [block[0] for block in speaker]
    assert told == [number * BLOCK / RATE for number in range(1, 11)]
    assert [event.at for event in events] == [0, 6 * BLOCK]
    assert [photograph.caption for photograph in camera.taken] == ["first", "later", "last"]
    assert [photograph.frame.bits[0] for photograph in camera.taken] == [1, 5, 10]


@pytest.mark.parametrize("length", [0, 100, BLOCK, 2 * BLOCK + 7])
def test_a_recording_is_followed_by_silence(length: int):
    sound = np.arange(1, length + 1, dtype=np.float32)
    recording = Recording(sound[at : at + BLOCK] for at in range(0, length, BLOCK))
    found = np.concatenate([recording.block(np.ones(BLOCK, np.float32)) for _ in range(4)])
    assert found[:length].tolist() == sound.tolist()
    assert not found[length:].any()
    assert len(found) == 4 * BLOCK
