"""What the figures of sound share: a real sound server, a whole live box on it, and the search for lost samples.

The card is real PortAudio on PulseAudio null sinks (`tests/contract/sound/server.py`).
"""

from __future__ import annotations

import contextlib
import os
import platform
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import sounddevice

from firmware.parts.part import Start
from firmware.ports import Screen, Stick
from firmware.units import RATE, Samples
from hardware.desk import live_box
from hardware.drivers.sound_card import PortAudioCard
from hardware.drivers.sound_devices import device_pair
from hardware.drivers.stick import FolderStick
from hardware.live_loop import SWITCH_SECONDS
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen
from tests.contract.sound.server import SoundServer, missing

URGENT = 5
"""The priority that PulseAudio gives its own threads (pulse-daemon.conf, `realtime-priority`)."""

CARD_PRIORITY = 50
"""A sound card waits for no processor; the server that stands in for one shall not either. It must be above that of the
callback's thread, which asks the server again and again while it has nothing, and would else keep it from running."""

CLOSE = 1e-6
"""Two samples are the same within the rounding of 24 bits."""

CHUNK = 4800
RESYNC = 24_000
"""Samples, either way, within which the sound is looked for again after a slip."""


def urgent() -> bool:
    """Let other work on this machine wait for this process, and all that it starts; whether that was allowed.

    A box has its two cores to itself; a test machine may not. Round robin keeps the order among our own threads.
    """
    try:
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(URGENT))
    except OSError:
        return False
    return True


@contextlib.contextmanager
def sound_server(*, one_card: bool = False) -> Iterator[SoundServer]:
    """A private sound server, with PortAudio listing its devices."""
    absent = missing()
    if absent:
        raise SystemExit(f"not installed: {absent}")
    with tempfile.TemporaryDirectory(prefix="kn-") as folder:
        server = SoundServer(Path(folder), one_card=one_card)
        with contextlib.suppress(OSError):
            server.hurry(CARD_PRIORITY)
        os.environ.update(server.client_env)
        sounddevice._terminate()
        sounddevice._initialize()
        try:
            yield server
        finally:
            server.end_all()
            server.close()


class Written:
    """Blocks of sound on their way into a file, written by a thread of its own."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._blocks: deque[Samples] = deque()  # whose ends two threads may work on without a lock
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def add(self, block: Samples) -> None:
        """Take in a block; called by the audio thread."""
        self._blocks.append(block.copy())

    def close(self) -> Samples:
        """End; all that was written."""
        self._ended.set()
        self._thread.join()
        return np.memmap(self.path, dtype="<f4", mode="r")

    def _run(self) -> None:
        # Not by tofile(), which may wait for the disk while it keeps every other thread from running.
        with self.path.open("wb", buffering=0) as out:
            while not self._ended.wait(0.25) or self._blocks:
                blocks = [self._blocks.popleft() for _ in range(len(self._blocks))]
                out.write(b"".join(block.astype("<f4").tobytes() for block in blocks))


class LiveBox:
    """A whole box on the sound server: `played` is what its engine gave, `heard` what its card heard."""

    def __init__(
        self,
        server: SoundServer,
        folder: Path,
        *,
        keep: bool = True,
        devices: str = "",
        latency: str | float = "high",
        realtime: bool = True,
        stick: Stick | None = None,
        screen: Screen | None = None,
    ) -> None:
        self.card = PortAudioCard(device_pair(devices or server.devices), latency=latency, realtime=realtime)
        self.panel = SimulatedPanel()
        stick = stick or FolderStick(folder / "KEELNOTE")
        self.loop = live_box(stick, screen or SimulatedScreen(), Start(stick=True), self.card)
        self.folder = folder
        self.played = Written(folder / "played.raw") if keep else None
        self.heard = Written(folder / "heard.raw") if keep else None
        if keep:
            self._write_down(self.loop._engine.process)

    def _write_down(self, engine: Callable[[Samples], Samples]) -> None:
        def process(mic: Samples) -> Samples:
            own = engine(mic)
            assert self.played is not None
            assert self.heard is not None
            self.heard.add(mic)
            self.played.add(own)
            return own

        self.loop._engine.process = process  # type: ignore[method-assign] - the same, written down

    def start(self) -> None:
        """Switch it on, as the entry does."""
        sys.setswitchinterval(SWITCH_SECONDS)
        self.panel.start(self.loop.post, self.loop.now)
        self.loop.start()

    def tap(self, *keys: str) -> None:
        """Tap some keys, one after the other."""
        for key in keys:
            self.panel.press(key)
            self.panel.release(key)


@dataclass(frozen=True, slots=True)
class Slip:
    """A place where what arrived is not what was sent: `samples` too few (lost, below 0) or too many (doubled)."""

    at_s: float
    samples: int


def same(one: Samples, other: Samples) -> bool:
    """Whether two stretches are the same sound."""
    return len(one) == len(other) and bool(np.allclose(one, other, atol=CLOSE, rtol=0))


def slips(sent: Samples, arrived: Samples, sent_at: int, arrived_at: int) -> tuple[list[Slip], int]:
    """Walk through both from places that belong together; the slips, and how many samples were compared."""
    found: list[Slip] = []
    at, shift = sent_at, arrived_at - sent_at
    while at + CHUNK <= len(sent) and at + shift + CHUNK <= len(arrived):
        one, other = np.asarray(sent[at : at + CHUNK]), np.asarray(arrived[at + shift : at + shift + CHUNK])
        if same(one, other):
            at += CHUNK
            continue
        first = int(np.flatnonzero(~np.isclose(one, other, atol=CLOSE, rtol=0))[0])
        step = _resync(sent, arrived, at + first, shift)
        found.append(Slip(round((at + first) / RATE, 3), step))
        shift += step
        at += first if step else CHUNK  # a stretch of other sound of the same length is a slip of no samples
    return found, at - sent_at


def _resync(sent: Samples, arrived: Samples, at: int, shift: int) -> int:
    """By how many samples later (above 0) or earlier the sound goes on; 0 when it is not found."""
    after = at + RESYNC // 2  # what stands between is not compared: a stretch of silence may have come in
    piece = np.asarray(sent[after : after + 480])
    if len(piece) < 480:
        return 0
    low = max(after + shift - RESYNC // 2, 0)
    window = np.asarray(arrived[low : after + shift + RESYNC // 2 + len(piece)])
    hits = np.flatnonzero(np.isclose(window[: len(window) - len(piece) + 1], piece[:1], atol=CLOSE, rtol=0))
    steps = [int(hit) + low - after - shift for hit in hits if same(piece, window[hit : hit + len(piece)])]
    return min(steps, key=abs, default=0)


def begin_of(sound: Samples, seconds: float = 30.0) -> int:
    """Number of the first sample that is not silent."""
    loud = np.flatnonzero(np.abs(np.asarray(sound[: int(seconds * RATE)])) > 1e-5)
    if not len(loud):
        raise SystemExit("nothing sounds")
    return int(loud[0])


def wait_until(reached: Callable[[], object], seconds: float) -> float:
    """Wait until something is so; how many seconds that took. Ends the program when it never is."""
    began = time.monotonic()
    while not reached():
        if time.monotonic() > began + seconds:
            raise SystemExit(f"not reached within {seconds} s")
        time.sleep(0.002)
    return time.monotonic() - began


def machine() -> dict[str, str]:
    """When and where figures were taken."""
    return {
        "date": time.strftime("%Y-%m-%d", time.gmtime()),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"numpy {np.__version__}, load {os.getloadavg()[0]:.1f}",
    }
