"""What the status light of the box can say."""

from __future__ import annotations

from enum import StrEnum


class Lamp(StrEnum):
    """How the box stands, as far as one light can tell."""

    STARTING = "starting"
    READY = "ready"
    TAKING = "taking"
    TROUBLE = "trouble"
    OFF = "off"
