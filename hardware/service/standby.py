"""A process that has everything loaded and waits: when the box's own process crashes, the next one begins at once.

Python and all modules of the box take seconds to load on a small board, longer than a room may be without its drone. So
the service's main process loads them once, opens nothing, and forks: the child is the box. A child that ends by itself
is followed by another. What hangs is seen by the service manager as ever, which ends both and begins anew.
"""

from __future__ import annotations

import ctypes
import gc
import importlib
import os
import signal
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from hardware.service.notify import Notifier

LOADED_LATER: Final = (
    "gpiozero",
    "evdev",
    "mido.backends.rtmidi",
    "_sounddevice",
    "smbus2",
    "cbor2",
    "numpy.ma",
    "numpy.random",
    "PIL.ImageChops",
)
"""What the box loads only when it needs it. Not sounddevice, which opens PortAudio; not luma and lgpio, which begin
threads when they are loaded, and a fork takes none along."""

SETTLED_SECONDS: Final = 10.0
"""A child that ran for this long did not end at once."""

MOST_QUICK_ENDS: Final = 5
"""Children that end at once, one after the other; then the service manager shall begin from nothing."""

PAUSE_SECONDS: Final = 0.05
"""Before the next child: what the last one held, a sound card say, is free by then."""

DIE_WITH_PARENT: Final = 1
"""PR_SET_PDEATHSIG of prctl(2), from memory of linux/prctl.h."""


def load() -> None:
    """Load what the box loads later, as far as it is there."""
    for name in LOADED_LATER:
        with suppress(Exception):  # a library that fails to load is told of where the box uses it
            importlib.import_module(name)


def stand_by(
    notifier: Notifier, loading: Callable[[], None] = load, now: Callable[[], float] = time.monotonic
) -> int | None:
    """Fork. In the process that is to be the box, and in each one after it, None comes back at once.

    In the one that stood by, the exit code comes back when the box has ended in order, or can't be kept alive.

    Parameters
    ----------
    notifier : Notifier
        Hears that the service lives while one process takes the place of another.
    loading : callable
        Loads what the children shall have.
    now : callable
        Seconds of a clock that never jumps.
    """
    loading()
    # Else the collector would write into each object, and the child would need a copy of every page.
    gc.collect()
    gc.freeze()
    told: list[int] = []
    child = 0

    def pass_on(number: int, _frame: object) -> None:
        told.append(number)
        if child:
            with suppress(ProcessLookupError):
                os.kill(child, number)

    ends = (signal.SIGTERM, signal.SIGINT)
    for number in ends:
        signal.signal(number, pass_on)
    quick = 0
    while True:
        began = now()
        # No signal may come in between, when it is not known yet whom to pass it on to.
        signal.pthread_sigmask(signal.SIG_BLOCK, ends)
        child = os.fork()
        if not child:
            _become_the_box(ends)
            return None
        signal.pthread_sigmask(signal.SIG_UNBLOCK, ends)
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        child = 0
        if told or code == 0:
            return abs(code)
        quick = quick + 1 if now() - began < SETTLED_SECONDS else 0
        sys.stdout.write(f"The box ended by itself ({_why(code)}); it goes on.\n")
        sys.stdout.flush()
        if quick >= MOST_QUICK_ENDS:
            return abs(code)
        notifier.alive()
        time.sleep(PAUSE_SECONDS)


def _become_the_box(ends: tuple[signal.Signals, ...]) -> None:
    for number in ends:
        signal.signal(number, signal.SIG_DFL)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, ends)
    ctypes.CDLL(None).prctl(DIE_WITH_PARENT, int(signal.SIGKILL))
    # The watchdog's time is meant for this process now (sd_watchdog_enabled(3)).
    if "WATCHDOG_PID" in os.environ:
        os.environ["WATCHDOG_PID"] = str(os.getpid())


def _why(code: int) -> str:
    return signal.Signals(-code).name if code < 0 else f"exit code {code}"
