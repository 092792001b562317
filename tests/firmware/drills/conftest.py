"""What tests of the drills share: a task in B♭ major."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from firmware.drills.drill import Task
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of


@pytest.fixture
def task() -> Callable[..., Task]:
    """Makes a task; B♭2 is the lowest tonic."""

    def make(tonic: str = "Bb", mode: str = "major", seed: int = 7, **more: float | str) -> Task:
        return Task(Harmony(key_of(tonic, mode)), seed, **more)

    return make
