"""What the box plays itself, as the microphone hears it: known or not."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

QUIET: Final = 1e-5
RING_SECONDS: Final = 1.6


class OwnSound:
    """Refuses while the box sounds and while the room may still ring."""

    def __init__(self, rate: float) -> None:
        self._rate = rate
        self._since = RING_SECONDS

    @property
    def known(self) -> bool:
        """Whether what is left of the microphone is free of own sound."""
        return self._since >= RING_SECONDS

    def remove(self, mic: Signal, own: Signal) -> Signal:
        """Microphone less own sound, same shape."""
        loud = float(np.abs(own).max(initial=0.0)) > QUIET
        self._since = 0.0 if loud else self._since + len(own) / self._rate
        return mic
