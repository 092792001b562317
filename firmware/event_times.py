"""Moves events from one clock to another."""

from __future__ import annotations

import dataclasses
from typing import Any, Final, TypeVar

from firmware.events import Event

E = TypeVar("E", bound=Event)

PLACES: Final = frozenset({"at", "start"})
"""Fields that are places on the clock; others that count samples are lengths."""


def later(event: E, samples: int) -> E:
    """The same event on a clock that began so many samples earlier."""
    names = PLACES & {field.name for field in dataclasses.fields(event)}
    moved: dict[str, Any] = {name: getattr(event, name) + samples for name in names}
    return dataclasses.replace(event, **moved)
