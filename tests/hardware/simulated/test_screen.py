"""The simulated screen shows the last picture, skips equal ones and survives its own death."""

from firmware.screens.frame import Frame
from hardware.simulated.screen import SimulatedScreen


def picture(number: int) -> Frame:
    return Frame(bytes([number]) * 1024)


def test_it_is_dark_at_first():
    screen = SimulatedScreen()
    assert screen.last_frame == Frame()
    screen.show(Frame())
    assert screen.shown == 1


def test_equal_pictures_are_skipped_and_counted():
    screen = SimulatedScreen()
    for number in (1, 1, 2, 2, 2, 1):
        screen.show(picture(number))
    assert screen.last_frame == picture(1)
    assert (screen.shown, screen.skipped) == (3, 3)
    assert list(screen.frames) == [picture(1), picture(2), picture(1)]


def test_only_the_latest_are_kept():
    screen = SimulatedScreen(keep=2)
    for number in range(9):
        screen.show(picture(number))
    assert list(screen.frames) == [picture(7), picture(8)]


def test_a_dead_panel_keeps_its_last_picture_and_never_raises():
    screen = SimulatedScreen()
    screen.show(picture(1))
    screen.dead = True
    screen.show(picture(2))
    assert screen.last_frame == picture(1)
