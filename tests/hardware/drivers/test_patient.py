"""Parts that come later are taken up by themselves, and what is missing is told once."""

from __future__ import annotations

from collections.abc import Callable

from firmware.errors import DeviceError
from firmware.events import Event, KeyDown, PanelKey
from firmware.ports import Now, Post
from hardware.drivers.patient import Patient, PatientPanel
from hardware.simulated.panel import SimulatedPanel

Eventually = Callable[..., None]


class LatePanel(SimulatedPanel):
    """A panel whose pins come later."""

    def __init__(self) -> None:
        super().__init__()
        self.pins = False
        self.tries = 0

    def start(self, post: Post, now: Now) -> None:
        self.tries += 1
        if not self.pins:
            raise DeviceError("pins", "of this machine", "a Raspberry Pi is needed")
        super().start(post, now)


def test_a_panel_is_tried_until_it_is_there_and_told_of_once(eventually: Eventually):
    late, told, posted = LatePanel(), list[DeviceError](), list[Event]()
    panel = PatientPanel(late, told.append, retry=0.01)
    panel.start(posted.append, lambda: 7)
    eventually(lambda: late.tries > 3, "tries")
    late.pins = True
    tries = late.tries
    eventually(lambda: panel._patient is not None and panel._patient.there, "the panel")
    late.press(PanelKey.DRONE)
    assert posted == [KeyDown(7, PanelKey.DRONE)]
    assert len(told) == 1
    panel.stop()
    panel.stop()
    assert late.tries <= tries + 1, "it is no longer tried once it is there"


def test_stop_ends_the_waiting_for_what_never_came():
    begun, ended = [], []

    def begin() -> None:
        begun.append(1)
        raise DeviceError("key", 1, "its pin must be free")

    part = Patient(begin, lambda: ended.append(1), retry=60)
    part.start()
    part.stop()
    assert (len(begun), ended, part.there) == (1, [], False)


def test_what_has_started_is_stopped_once():
    ended = []
    part = Patient(bool, lambda: ended.append(1))
    part.start()
    assert part.there
    part.stop()
    part.stop()
    assert ended == [1]
