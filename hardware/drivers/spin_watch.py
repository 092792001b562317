"""Notices a sound driver that asks its device without a pause between two callbacks, instead of sleeping."""

from __future__ import annotations

from typing import Final

WINDOW_SECONDS: Final = 2.0
"""Over which the driver's share of a processor is taken."""

SPINNING: Final = 0.5
"""Of a processor. 1 to 2 % were measured while a driver sleeps, 66 to 98 % while it does not."""

REST_SECONDS: Final = 60.0
"""Between two tries to mend it by opening the card anew: each is a gap in the sound."""


class SpinWatch:
    """Adds up the CPU time that the callback's thread spends outside of our callbacks.

    After an underrun on a sound server, PortAudio's thread may ask ALSA's plugin again and again until the stream is
    closed. As a real-time thread it then keeps a processor from everybody else, until Linux stops it for 50 ms of each
    second (sched(7), sched_rt_runtime_us): later than a block may be.

    `began` and `ended` are called on the callback's thread, with its CPU time in seconds; the rest by anybody.
    """

    def __init__(self) -> None:
        self.count = 0
        """How often a card was opened anew because of it."""
        self._mended: float | None = None
        self.restart()

    def restart(self) -> None:
        """Forget what was, because a stream is opened whose callbacks come on another thread."""
        self._share = 0.0
        self._spent: float | None = None
        self._window = 0.0
        self._outside = 0.0

    def began(self, now: float, spent: float) -> None:
        """Tell of a callback that begins."""
        if self._spent is None:  # the first one: what was spent before is the opening
            self._window = now
            return
        self._outside += spent - self._spent
        if now - self._window >= WINDOW_SECONDS:
            self._share = self._outside / (now - self._window)
            self._window, self._outside = now, 0.0

    def ended(self, spent: float) -> None:
        """Tell of a callback that ends."""
        self._spent = spent

    def shall_mend(self, now: float) -> bool:
        """Whether to open the card anew; true once, and then not again for a while."""
        if self._share < SPINNING or (self._mended is not None and now - self._mended < REST_SECONDS):
            return False
        self._mended = now
        self.count += 1
        return True
