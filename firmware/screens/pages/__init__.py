"""The pages of the panel, one file each, in the order of the knob."""

from __future__ import annotations

from typing import Final

from firmware.screens.page import Page
from firmware.screens.pages import chord, drill, ear, key, plan, pulse, room, setup, takes

PAGES: Final[tuple[Page, ...]] = (
    key.PAGE,
    chord.PAGE,
    ear.PAGE,
    pulse.PAGE,
    takes.PAGE,
    room.PAGE,
    setup.PAGE,
    plan.PAGE,
    drill.PAGE,
)
