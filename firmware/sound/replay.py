"""The replay of a take: another thread feeds samples into a bounded store, the engine plays them."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.sound.ramp import Fader
from firmware.units import Samples

STORE_SECONDS: Final = 2.0
"""What is kept ahead of the loudspeaker."""

STOP_SECONDS: Final = 0.02
"""A replay that is stopped fades out over this time."""

EDGE_SECONDS: Final = 0.005
"""Sound that begins or breaks off within a take is rounded over this time."""

MOST_LEAVING: Final = 6
"""Stopped replays that may be fading at once; the engine takes changes no faster than this allows."""


class Store:
    """Bounded store of one replay. One thread puts, another takes; each writes only its own counter.

    Parameters
    ----------
    token : int
        Which replay the samples belong to.
    size : int
        Samples that it holds at most.
    """

    def __init__(self, token: int, size: int) -> None:
        self.token = token
        self.ended = False
        self._data = np.zeros(size, dtype=np.float32)
        self._put = 0
        self._taken = 0

    @property
    def begun(self) -> bool:
        """Whether any sample has arrived."""
        return self._put > 0

    @property
    def used_up(self) -> bool:
        """Whether the last sample has been taken."""
        return self.ended and self._taken == self._put

    def room(self) -> int:
        """Samples that can be put."""
        return 0 if self.ended else len(self._data) - (self._put - self._taken)

    def put(self, samples: Samples, *, last: bool) -> int:
        """Store what there is room for; say how many samples that was."""
        count = min(len(samples), self.room())
        begin = self._put % len(self._data)
        clean = np.clip(np.nan_to_num(samples[:count], nan=0.0, posinf=1.0, neginf=-1.0), -4.0, 4.0)
        head = clean[: len(self._data) - begin]
        self._data[begin : begin + len(head)] = head
        self._data[: count - len(head)] = clean[len(head) :]
        self._put += count  # after the samples: the other thread must never see room that is not filled
        self.ended = self.ended or (last and count == len(samples))
        return count

    def take(self, count: int) -> Samples:
        """The next `count` samples, or fewer when there are no more now."""
        count = min(count, self._put - self._taken)
        begin = self._taken % len(self._data)
        head = self._data[begin : begin + count]
        samples = np.concatenate([head, self._data[: count - len(head)]])
        self._taken += count
        return samples


class Player:
    """Plays one store: rounds its edges, counts what was missing, fades out when stopped.

    Parameters
    ----------
    store : Store
        Where the samples come from.
    rate : int
        Samples per second.
    """

    def __init__(self, store: Store, rate: int) -> None:
        self.store = store
        self.gain = Fader()
        self.missing = 0
        edge = round(EDGE_SECONDS * rate)
        self._up = (0.5 - 0.5 * np.cos(np.pi * (np.arange(edge) + 0.5) / edge)).astype(np.float32)
        self._risen = 0
        self._fallen = edge
        self._last = np.float32(0.0)

    @property
    def over(self) -> bool:
        """Whether nothing more will be heard."""
        return self.store.used_up and self._fallen >= len(self._up)

    def sound(self, position: int, count: int) -> Samples:
        """The next `count` samples, silence where there are none."""
        result = np.zeros(count, dtype=np.float32)
        got = self.store.take(count)
        result[: len(got)] = got
        if len(got):
            rising = self._up[self._risen :][: len(got)]
            result[: len(rising)] *= rising
            self._risen += len(rising)
            self._last, self._fallen = result[len(got) - 1], 0
        if len(got) < count:
            falling = self._up[::-1][self._fallen :][: count - len(got)]
            result[len(got) : len(got) + len(falling)] = self._last * falling
            self._fallen += len(falling)
            self._risen = 0
            self.missing += 0 if self.store.ended or not self.store.begun else count - len(got)
        self.gain.apply(result, position)
        return result


class Replay:
    """The store being fed, its player, and stopped ones that still fade.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._size = round(STORE_SECONDS * rate)
        self._store: Store | None = None
        self._player: Player | None = None
        self._leaving: list[Player] = []
        self._missing_before = 0

    @property
    def missing(self) -> int:
        """Samples that were silent because the feed came late, since the start."""
        return self._missing_before + (self._player.missing if self._player else 0)

    def feed(self, token: int, samples: Samples, *, last: bool) -> int:
        """Called by the feeding thread: store samples of the replay `token`; say how many were accepted."""
        store = self._store
        if store is None or store.token != token:
            store = self._store = Store(token, self._size)
        return store.put(np.asarray(samples, dtype=np.float32).reshape(-1), last=last)

    def room(self, token: int | None) -> int:
        """Samples that a feed would accept, `token` being the replay that is to sound (None: none).

        A store that has ended, or that nobody wants to hear, makes room for the replay that comes next.
        """
        store = self._store
        if store is None or store.ended or store.token != token:
            return self._size
        return store.room()

    def done(self, token: int) -> bool:
        """Whether the replay `token` has been played to its end."""
        player = self._player
        return player is not None and player.store.token == token and player.over

    def sound(self, token: int | None, gain: float, position: int, count: int) -> Samples | None:
        """Sound of the replay `token` (None: no replay) over `count` samples from `position` on; None for silence."""
        self._choose(token, gain, position)
        players = [*self._leaving, *([self._player] if self._player else [])]
        parts = [player.sound(position, count) for player in players if not player.gain.shut(position)]
        self._leaving = [player for player in self._leaving if not player.gain.shut(position + count)]
        return sum(parts[1:], parts[0]) if parts else None

    def _choose(self, token: int | None, gain: float, position: int) -> None:
        store, player = self._store, self._player
        if store is not None and store.token == token and (player is None or player.store is not store):
            self._retire(position)
            player = self._player = Player(store, self._rate)
            player.gain = Fader(gain)
        if player is not None:
            wanted = gain if player.store.token == token else 0.0
            player.gain.aim(wanted, position, round(STOP_SECONDS * self._rate))

    def _retire(self, position: int) -> None:
        if self._player is not None:
            self._player.gain.aim(0.0, position, round(STOP_SECONDS * self._rate))
            self._missing_before += self._player.missing
            self._leaving = [*self._leaving, self._player][-MOST_LEAVING:]
