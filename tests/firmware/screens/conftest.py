"""What tests of the panel share: a view with every setting at its default, and the states that crowd the header."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest

from firmware.screens.frame import HEIGHT, WIDTH, Frame
from firmware.screens.render import paint
from firmware.screens.view import Setting, View
from firmware.settings import DEFAULTS, SETTINGS

Dots = np.ndarray[tuple[int, int], np.dtype[np.bool_]]


@pytest.fixture
def view() -> View:
    """A quiet box, all settings at their defaults."""
    return View(values=dict(DEFAULTS.entries), stick=True, free_minutes=412)


@pytest.fixture
def busy(view: View) -> View:
    """Everything on at once, as the header sees it."""
    return replace(view, drone_on=True, taking=True, take_number=3, badge="in B♭")


@pytest.fixture
def dots() -> Callable[[Frame], Dots]:
    """Turns a frame into rows and columns of true and false."""

    def turn(frame: Frame) -> Dots:
        bits = np.frombuffer(frame.bits, dtype=np.uint8)
        return np.unpackbits(bits).reshape(HEIGHT, WIDTH).astype(bool)

    return turn


@pytest.fixture
def cuts() -> Callable[[View], list[str]]:
    """Names the texts of a view that do not fit their places."""
    return lambda view: paint(view).cuts


@pytest.fixture
def with_value() -> Callable[[View, str, Setting], View]:
    """The same view with one setting changed."""
    return lambda view, name, value: replace(view, values={**view.values, name: value})


@pytest.fixture
def all_values() -> Callable[[str], Iterator[Setting]]:
    """Every value that a setting can have."""

    def values(name: str) -> Iterator[Setting]:
        setting = next(setting for setting in SETTINGS if setting.name == name)
        if setting.choices:
            yield from setting.choices
            return
        steps = round((setting.high - setting.low) / setting.step)
        for step in range(steps + 1):
            yield type(setting.default)(setting.low + step * setting.step)

    return values
