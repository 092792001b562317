"""Keeps sound going: watches the sound card, takes over in silence when it is gone, and brings it back."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Final, Protocol

import numpy as np

from firmware.errors import DeviceError
from firmware.ports import SoundCard
from firmware.units import Samples
from hardware.simulated.sound_card import QuietCard

LOOK: Final = 0.05
"""Seconds between two looks at the card."""

GRACE: Final = 1.0
"""Seconds that a card is allowed from opening to its first callback; 0.06 s were measured on a sound server."""

LATE_SECONDS: Final = 5.0
"""Between two messages about late blocks."""

PLUG_IN: Final = "Plug the sound card in again; the box looks for it by itself."

WAITS: Final = (0.25, 0.5, 0.5, 1.0)
"""Seconds before each next try to reopen; the last one again and again, so that sound is back within two."""

COMPARE_SECONDS: Final = 1.0
"""Between two looks for a card that is to be preferred."""


class Card(SoundCard, Protocol):
    """A sound card that can be reopened."""

    last_error: str

    @property
    def name(self) -> str:
        """What it is called, for a person to read."""

    @property
    def summary(self) -> str:
        """Its name and how it runs, as one plain line."""

    def reopen(self) -> bool:
        """One try to get it back; it is back when it is also healthy soon after."""

    def choose(self, kind: str) -> None:
        """Prefer a kind of card from now on."""

    def better(self) -> bool:
        """Whether a card has come, or was asked for, that is to be preferred, or the open one is to be opened anew."""


class CardKeeper:
    """Lets exactly one source call `process`: the card while it lives, else a stand-in that keeps the clock running.

    Parameters
    ----------
    card
        The real thing.
    changed
        Called with ("sound-lost", reason), ("sound-back", name), ("sound-late", how many); never from the audio thread.
    stand_in
        Keeps time while there is no card.
    now
        Seconds of a clock that never jumps.
    """

    def __init__(
        self,
        card: Card,
        changed: Callable[[str, str], None],
        stand_in: QuietCard | None = None,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        self._card = card
        self._changed = changed
        self._stand_in = stand_in or QuietCard()
        self._now = now
        self._process: Callable[[Samples], Samples] = np.zeros_like
        self._on_card = False
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._watch, name="sound card keeper", daemon=True)
        self._compared = now()
        self._told = 0
        self._told_at = -LATE_SECONDS
        self._remedy = PLUG_IN
        self.why = ""

    @property
    def sounding(self) -> bool:
        """Whether the real card plays now."""
        return self._on_card

    @property
    def lost(self) -> int:
        """Blocks that came late or not at all."""
        return self._card.lost + self._stand_in.lost

    @property
    def status(self) -> str:
        """One plain line: what sounds, or why nothing does."""
        if self._on_card:
            return self._card.summary
        return f"No sound, the box runs on in silence: {self.why}"

    @property
    def advice(self) -> str:
        """What a person can do to get sound; empty while there is sound."""
        return "" if self._on_card else self._remedy

    def start(self, process: Callable[[Samples], Samples]) -> None:
        """Begin to call `process`; without a card it begins in silence and goes on trying."""
        self._process = process
        try:
            self._card.start(self._from_card)
            self._on_card = True
        except DeviceError as error:
            self._lose(error.allowed, error.remedy)
        self._thread.start()

    def stop(self) -> None:
        """End; a second call does nothing."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join()
        self._card.stop()
        self._stand_in.stop()

    def _from_card(self, mic: Samples) -> Samples:
        # A card that is on its way back plays silence until the stand-in has ended: never two callers at once.
        return self._process(mic) if self._on_card else np.zeros_like(mic)

    def _watch(self) -> None:
        if self._on_card and not self._comes_alive():
            self._lose("the card does not call back")
        while not self._ended.wait(LOOK):
            if self._on_card and not self._card.healthy():
                self._lose("the card stopped calling back")
            elif self._on_card and self._is_time_to_compare() and self._card.better():
                self._let_go()
            if not self._on_card:
                self._bring_back()
            self._tell_late()

    def _is_time_to_compare(self) -> bool:
        if self._now() - self._compared < COMPARE_SECONDS:
            return False
        self._compared = self._now()
        return True

    def _tell_late(self) -> None:
        # At most one message in a while: what is late is often late for a while.
        late = self.lost - self._told
        if late and self._now() - self._told_at > LATE_SECONDS:
            self._told += late
            self._told_at = self._now()
            self._changed("sound-late", f"{late} blocks came late or not at all")

    def _lose(self, why: str, remedy: str = PLUG_IN) -> None:
        self._changed("sound-lost", why)
        self._let_go(why, remedy)

    def _let_go(self, why: str = "a card is opened anew", remedy: str = PLUG_IN) -> None:
        self._on_card = False
        self.why = why
        self._remedy = remedy
        self._card.stop()
        self._stand_in.start(self._process)

    def _bring_back(self) -> None:
        tries = 0
        while not self._ended.wait(WAITS[min(tries, len(WAITS) - 1)]):
            tries += 1
            if self._card.reopen() and self._comes_alive():
                self._stand_in.stop()
                self._on_card = True
                self.why = ""
                self._changed("sound-back", self._card.name)
                return

    def _comes_alive(self) -> bool:
        until = self._now() + GRACE
        while self._now() < until and not self._ended.is_set():
            if self._card.healthy():
                return True
            self._ended.wait(LOOK / 5)
        return self._card.healthy()
