"""Keys, knob and pedals without wires; a test, a terminal or a script moves them."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from typing import Final

from firmware.errors import UnknownNameError
from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey, Pedal, PedalDown, PedalUp
from firmware.ports import Now, Post
from firmware.units import samples_of

TAP_SECONDS: Final = 0.08
"""How long a quick finger stays on a key."""
HOLD_SECONDS: Final = 1.0
DETENT_SECONDS: Final = 0.06
"""Time between two detents of a knob that is turned without hurry."""


class SimulatedPanel:
    """A panel that keeps the Panel contract and is moved by calls.

    `press`, `release`, `knob_down`, `knob_up`, `turn`, `pedal_down` and `pedal_up` act at once. The gestures `tap`,
    `hold`, `push`, `push_turn`, `hold_turn`, `pedal` and `turn_slowly` begin at once; what is left of them is done by
    `pump` when its time has come. Nothing is posted before `start` or after `stop`.
    """

    def __init__(self) -> None:
        self._post: Post | None = None
        self._now: Now = int
        self._later: list[tuple[int, int, Callable[[int], Event]]] = []
        self._count = 0
        self.down: set[PanelKey] = set()
        """Keys that are down now."""

    # --- the contract -----------------------------------------------------------------------------------------------

    def start(self, post: Post, now: Now) -> None:
        """Begin to post; `now` gives the sample count of every event."""
        self._post = post
        self._now = now

    def stop(self) -> None:
        """End; a second call does nothing. Gestures that are under way are dropped."""
        self._post = None
        self._later.clear()
        self.down.clear()

    # --- at once ----------------------------------------------------------------------------------------------------

    def press(self, key: PanelKey | str) -> None:
        """Put a key down; one that is down already stays there."""
        self._do(_key_down(panel_key(key)))

    def release(self, key: PanelKey | str) -> None:
        """Let a key come up."""
        self._do(_key_up(panel_key(key)))

    def turn(self, steps: int) -> None:
        """Turn the knob by some detents, clockwise counts up, each an event of its own."""
        for _ in range(abs(steps)):
            self._do(_detent(1 if steps > 0 else -1))

    def knob_down(self) -> None:
        """Push the knob in."""
        self._do(KnobDown)

    def knob_up(self) -> None:
        """Let the knob go."""
        self._do(KnobUp)

    def pedal_down(self, pedal: Pedal | str) -> None:
        """Step on a pedal."""
        self._do(_pedal_down(pedal_named(pedal)))

    def pedal_up(self, pedal: Pedal | str) -> None:
        """Step off a pedal."""
        self._do(_pedal_up(pedal_named(pedal)))

    # --- gestures ---------------------------------------------------------------------------------------------------

    def tap(self, key: PanelKey | str) -> None:
        """Tap a key."""
        self.hold(key, TAP_SECONDS)

    def hold(self, key: PanelKey | str, seconds: float = HOLD_SECONDS) -> None:
        """Hold a key for some seconds."""
        self.press(key)
        self._after(seconds, _key_up(panel_key(key)))

    def hold_turn(self, key: PanelKey | str, steps: int) -> None:
        """Turn the knob while a key is down."""
        self.press(key)
        end = self._turn_after(DETENT_SECONDS, steps)
        self._after(end, _key_up(panel_key(key)))

    def push(self) -> None:
        """Push the knob in and let it go."""
        self.knob_down()
        self._after(TAP_SECONDS, KnobUp)

    def push_turn(self, steps: int) -> None:
        """Turn the knob while it is pushed in."""
        self.knob_down()
        end = self._turn_after(DETENT_SECONDS, steps)
        self._after(end, KnobUp)

    def turn_slowly(self, steps: int) -> None:
        """Turn the knob detent by detent, as a hand does."""
        self._turn_after(0.0, steps)

    def pedal(self, pedal: Pedal | str) -> None:
        """Step on a pedal and off again."""
        self.pedal_down(pedal)
        self._after(TAP_SECONDS, _pedal_up(pedal_named(pedal)))

    def pump(self, now: int) -> None:
        """Do what is left of the gestures and is due at a sample count; events bear the time when they were due."""
        while self._later and self._later[0][0] <= now:
            at, _, make = heapq.heappop(self._later)
            self._send(make(at))

    def _turn_after(self, seconds: float, steps: int) -> float:
        for _ in range(abs(steps)):
            self._after(seconds, _detent(1 if steps > 0 else -1))
            seconds += DETENT_SECONDS
        return seconds

    def _after(self, seconds: float, make: Callable[[int], Event]) -> None:
        if self._post is not None:
            self._count += 1
            heapq.heappush(self._later, (self._now() + samples_of(seconds), self._count, make))

    def _do(self, make: Callable[[int], Event]) -> None:
        self._send(make(self._now()))

    def _send(self, event: Event) -> None:
        if self._post is None:
            return
        if isinstance(event, KeyDown):
            if event.key in self.down:
                return
            self.down.add(event.key)
        elif isinstance(event, KeyUp):
            if event.key not in self.down:
                return
            self.down.remove(event.key)
        self._post(event)


def panel_key(key: PanelKey | str) -> PanelKey:
    """Find a key by its name in any case; raises UnknownNameError."""
    for known in PanelKey:
        if known.value.lower() == str(key).lower():
            return known
    raise UnknownNameError("key", key, (known.value for known in PanelKey))


def pedal_named(pedal: Pedal | str) -> Pedal:
    """Find a pedal by its name in any case; raises UnknownNameError."""
    for known in Pedal:
        if known.value.lower() == str(pedal).lower():
            return known
    raise UnknownNameError("pedal", pedal, (known.value for known in Pedal))


def _key_down(key: PanelKey) -> Callable[[int], Event]:
    return lambda at: KeyDown(at, key)


def _key_up(key: PanelKey) -> Callable[[int], Event]:
    return lambda at: KeyUp(at, key)


def _detent(step: int) -> Callable[[int], Event]:
    return lambda at: KnobTurn(at, step)


def _pedal_down(pedal: Pedal) -> Callable[[int], Event]:
    return lambda at: PedalDown(at, pedal)


def _pedal_up(pedal: Pedal) -> Callable[[int], Event]:
    return lambda at: PedalUp(at, pedal)
