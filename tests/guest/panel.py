"""The real number pad driver, run inside the guest: says each event that it posts, and what it uses.

    python tests/guest/panel.py

It ends at SIGTERM.
"""

from __future__ import annotations

import itertools
import signal
import threading

from firmware.events import Event
from hardware.drivers.input_panel import InputPanel


def say(*words: object) -> None:
    print(*words, flush=True)  # noqa: T201 - whoever strikes the keys reads it


def name_of(event: Event) -> str:
    """Kind of an event and what it is about, without its time."""
    about = getattr(event, "key", None) or getattr(event, "pedal", None) or getattr(event, "steps", "")
    return f"{type(event).__name__} {about}".rstrip()


def main() -> None:
    """Run until told to end."""
    ended = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    count = itertools.count()
    panel = InputPanel(look=0.2)
    panel.start(lambda event: say("event", name_of(event)), lambda: next(count))
    say("looks")
    seen: set[str] = set()
    while not ended.wait(0.05):
        for name in set(panel.names) ^ seen:
            say("lost" if name in seen else "uses", name)
        seen = set(panel.names)
    panel.stop()


if __name__ == "__main__":
    main()
