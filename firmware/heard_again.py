"""Hears a recording as the box heard it, by what happened meanwhile, and gives the lines that the box would write."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from typing import Final

from firmware.box import Box
from firmware.commands import AppendLine
from firmware.event_times import later
from firmware.events import Event, PowerDown, PulseChanged, Tick, Wish, Wished
from firmware.hearing.onsets_gate import OnsetsWhile
from firmware.hearing.players import PlayersListener
from firmware.parts.ear import EAR
from firmware.parts.notebook import NOTEBOOK
from firmware.parts.part import Start
from firmware.parts.timing import TIMING
from firmware.sound.limiter import Limiter
from firmware.units import RATE, Samples

TICK: Final = RATE // 20


def heard_again(
    blocks: Iterable[tuple[Samples, Samples]], events: Iterable[Event], begun: int
) -> Iterator[tuple[str, str]]:
    """Lines of the files of a rehearsal, as its parts write them, with the ear on from first to last.

    Parameters
    ----------
    blocks : iterable of (Samples, Samples)
        Microphone and what the box played at the same samples, shape (n,) each.
    events : iterable of Event
        What happened, in order: keys, pulse, who reads. What lies before the recording holds from its beginning.
    begun : int
        Sample of the rehearsal with which the recording begins.

    Yields
    ------
    (str, str)
        Name of the file, and a line for it.
    """
    box = Box(Start(), (EAR, TIMING, NOTEBOOK))
    due, pulse, now, ticked = deque(events), False, begun, begun
    players, onsets = PlayersListener(), OnsetsWhile(lambda: pulse, Limiter(RATE).delay)

    def told(event: Event) -> Iterator[tuple[str, str]]:
        for command in box.handle(event):
            if isinstance(command, AppendLine):
                yield command.path.rpartition("/")[2], command.line

    yield from told(Wished(now, Wish.EAR_NEXT))
    for mic, own in blocks:
        while due and due[0].at <= now:
            event = due.popleft()
            pulse = event.program is not None if isinstance(event, PulseChanged) else pulse
            yield from told(event)
        if now >= ticked:
            ticked += TICK
            yield from told(Tick(now))
        for heard in (*onsets.process(mic, own), *players.process(mic, own)):
            yield from told(later(heard, begun))
        now += len(mic)
    yield from told(PowerDown(now))
