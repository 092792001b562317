"""Full-duplex sound through PortAudio: microphone in, loudspeaker out, one callback, one sample clock."""

from __future__ import annotations

import atexit
import os
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

import numpy as np

from firmware.errors import DeviceError
from firmware.units import BLOCK, RATE, Samples
from hardware.drivers.sound_devices import ByRule, Choice, Chooser, Device, Named, with_numbers
from hardware.drivers.spin_watch import SpinWatch
from hardware.drivers.zeroed_memory import zeroed_memory

STALL_SECONDS: Final = 0.5
"""A card that has not called back for this long is gone; bursts at high latency are under 0.1 s apart."""

CLOSING_SECONDS: Final = 2.0
"""What PortAudio is allowed to close a stream; with a sound server that hangs it would wait for ever."""

PRIORITY: Final = 45
"""Real-time priority of the callback's thread, of 1 to 99: below the 50 at which Linux runs the threads of interrupts,
which bring the sound."""

REAL_TIME: Final = "real-time"


def portaudio() -> Any:  # noqa: ANN401 - sounddevice ships no types
    """Import sounddevice, which loads PortAudio and asks it for all devices.

    Raises
    ------
    DeviceError
        If the package or the PortAudio library is absent.
    """
    try:
        import sounddevice  # noqa: PLC0415 - importing it starts PortAudio, so only when sound is wanted
    except ImportError as error:
        remedy = "Install it with: pip install 'keelnote[desk]'"
        raise DeviceError("sound", "sounddevice", "the Python package is not installed", remedy) from error
    except OSError as error:
        remedy = "Install it with: apt install libportaudio2"
        raise DeviceError("sound", "PortAudio", "the library is not on this computer", remedy) from error
    return sounddevice


class PortAudioCard:
    """A sound card of the computer or the box; keeps the SoundCard contract.

    Parameters
    ----------
    device
        (input, output) as `device_pair` gives them, or what chooses them.
    rate, block
        Samples per second and per callback.
    latency
        PortAudio's "low", "high" or seconds. "high" was sample-exact on a computer that was busy.
    realtime
        Whether the callback's thread asks for real-time scheduling, which a desktop may refuse.
    now
        Seconds of a clock that never jumps; given by tests.
    """

    def __init__(
        self,
        device: tuple[Device, Device] | Chooser = (None, None),
        *,
        rate: int = RATE,
        block: int = BLOCK,
        latency: str | float = "high",
        realtime: bool = False,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        self.rate = rate
        self.block = block
        self.worst_gap = 0.0
        """Longest time between two callbacks, seconds."""
        self.worst_work = 0.0
        """Longest time that our own sound took for one block, seconds."""
        self.failures = 0
        self.last_error = ""
        self.scheduling = ""
        """How the callback's thread is scheduled: "real-time", or why it is not; empty until the first callback."""
        self._chooser: Chooser = Named(*device) if isinstance(device, tuple) else device
        self._ranked: tuple[Choice, ...] = ()
        self._realtime = realtime
        self._wanted_latency = latency
        self._now = now
        self._sd: Any = None
        self._stream: Any = None
        self._process: Callable[[Samples], Samples] = np.zeros_like
        self._asked = True
        self._spin = SpinWatch()
        self._lost = 0
        self._last: float | None = None
        self._closing: threading.Thread | None = None

    @property
    def lost(self) -> int:
        """Callbacks that PortAudio marked as late, plus those in which our own sound failed."""
        return self._lost + self.failures

    @property
    def latency(self) -> float:
        """Seconds from a returned block to the loudspeaker, as PortAudio reports it; 0 when closed."""
        if self._stream is None:
            return 0.0
        latency = self._stream.latency
        return float(latency[1] if isinstance(latency, tuple) else latency)

    @property
    def name(self) -> str:
        """Names of the input and the output that are open, for a person to read."""
        if self._stream is None:
            return ""
        # With a loudspeaker alone the stream has one device, else a pair.
        device = self._stream.device
        indexes = device if isinstance(device, tuple) else (device,)
        return ", ".join(dict.fromkeys(str(self._sd.query_devices(index)["name"]) for index in indexes))

    @property
    def summary(self) -> str:
        """What sounds, as one plain line."""
        deaf = "" if self._stream is None or isinstance(self._stream.device, tuple) else ", no microphone"
        return f"Sound: {self.name}, {1000 * self.latency:.0f} ms{deaf}"

    def choose(self, kind: str) -> None:
        """Prefer a kind of card from now on; `better` tells when that asks for another one. Named devices stay."""
        if isinstance(self._chooser, ByRule):
            self._chooser = replace(self._chooser, wanted=kind)

    def better(self) -> bool:
        """Whether another device has come, or is asked for, or the same one shall be opened anew: its driver spins."""
        if self._stream is not None and self.scheduling == REAL_TIME and self._spin.shall_mend(self._now()):
            return True  # an ordinary thread only wastes a processor: that is not worth a gap in the sound
        try:
            return self._stream is not None and self._chooser.choices()[0] != self._ranked[0]
        except DeviceError:  # none at all: then this one has gone too, which its silence tells
            return False

    def start(self, process: Callable[[Samples], Samples]) -> None:
        """Begin to call `process` with each microphone block; raises DeviceError when there is no card."""
        self._process = process
        self._sd = portaudio()
        self._open()

    def stop(self) -> None:
        """Fall silent and let the card go; a second call does nothing."""
        stream, self._stream = self._stream, None
        if stream is None:
            self._last = None
            return
        # A daemon thread, because abort() never returns from a sound server that hangs.
        self._closing = threading.Thread(target=self._close, args=(stream,), name="sound card closing", daemon=True)
        self._closing.start()
        self._closing.join(CLOSING_SECONDS)
        # Only now: until the stream has ended, a callback may still come in between.
        self._last = None
        if self._closing.is_alive():
            # At exit sounddevice would wait for PortAudio, which waits for the stream that never closes.
            atexit.unregister(self._sd._exit_handler)  # noqa: SLF001 - sounddevice has no public way to leave it out

    def healthy(self) -> bool:
        """Whether the last callback is recent enough; a pulled card stops calling back without any error."""
        last = self._last
        return self._stream is not None and last is not None and self._now() - last < STALL_SECONDS

    def reopen(self) -> bool:
        """One try to get a lost card back; the card is back when it is also healthy soon after.

        PortAudio keeps the device list of its start: a card that comes back is only seen after the library restarts.
        """
        self.stop()
        if self._sd is None or self._hangs():
            return False
        try:
            self._chooser.choices()  # without a card there is nothing to be listed, which takes time
            self._sd._terminate()  # noqa: SLF001 - the only way to make PortAudio list devices anew
            self._sd._initialize()  # noqa: SLF001 - its other half
            self._open()
        except (self._sd.PortAudioError, DeviceError) as error:
            self.last_error = str(error)
            return False
        return True

    def _hangs(self) -> bool:
        """Whether the last stream is still being closed: a second one beside it would do harm."""
        return self._closing is not None and self._closing.is_alive()

    def _close(self, stream: Any) -> None:  # noqa: ANN401 - sounddevice ships no types
        for end in (stream.abort, stream.close):
            try:
                end()
            except self._sd.PortAudioError as error:  # a card that is gone refuses both, and that is no news
                self.last_error = str(error)

    def _open(self) -> None:
        """Open the best choice that can be opened; raises DeviceError with the reason of the first."""
        self._ranked = self._chooser.choices()
        first: DeviceError | None = None
        for choice in self._ranked:
            try:
                self._open_one(choice)
            except DeviceError as error:
                first = first or error
                if self._hangs():
                    break
            else:
                return
        raise first or DeviceError("sound card", None, "there is none", "Plug one in.")

    def _open_one(self, choice: Choice) -> None:
        sd = self._sd
        choice = with_numbers(choice, sd.query_devices())
        try:
            with zeroed_memory():
                self._stream = self._new_stream(choice)
                self._stream.start()
        except (sd.PortAudioError, ValueError, MemoryError) as error:  # cffi's word for a system that forbids callbacks
            self.stop()
            remedy = "Plug in a sound card or choose another one with --device INPUT,OUTPUT."
            raise DeviceError("sound card", choice.pair, f"PortAudio says: {error}", remedy) from error

    def _new_stream(self, choice: Choice) -> Any:  # noqa: ANN401 - sounddevice ships no types
        # Both loudspeakers of a pair play the same; the microphone is the first channel.
        channels = min(2, int(self._sd.query_devices(choice.played, "output")["max_output_channels"]))
        same = {"samplerate": self.rate, "blocksize": self.block, "dtype": "float32", "latency": self._wanted_latency}
        self._asked = not self._realtime
        self._spin.restart()
        if not choice.microphone:
            silence = np.zeros((self.block, 1), dtype=np.float32)

            def played_only(played: Samples, frames: int, times: object, status: Any) -> None:  # noqa: ANN401 - PortAudio's signature
                self._callback(silence[:frames], played, frames, times, status)

            return self._sd.OutputStream(device=choice.played, channels=channels, callback=played_only, **same)
        return self._sd.Stream(device=choice.pair, channels=(1, channels), callback=self._callback, **same)

    def _ask_for_real_time(self) -> None:
        # On the callback's thread: to Linux, 0 is the calling thread. Children must not inherit it.
        self._asked = True
        try:
            os.sched_setscheduler(0, os.SCHED_FIFO | os.SCHED_RESET_ON_FORK, os.sched_param(PRIORITY))
            self.scheduling = REAL_TIME
        except (AttributeError, OSError) as error:  # another system, or it is not allowed: then as any other thread
            self.scheduling = f"not real-time: {error}"

    def _callback(self, heard: Samples, played: Samples, frames: int, times: object, status: Any) -> None:  # noqa: ANN401, ARG002 - PortAudio's signature
        # On PortAudio's own thread: no lock, no I/O, nothing may be raised.
        now = self._now()
        if not self._asked:
            self._ask_for_real_time()
        if self._last is not None:
            self.worst_gap = max(self.worst_gap, now - self._last)
        self._last = now
        self._spin.began(now, time.thread_time())
        if status and not status.priming_output:
            self._lost += 1
        try:
            played[:] = self._process(heard[:, 0])[:, np.newaxis]
        except Exception as error:  # noqa: BLE001 - an error here would end the stream; silence is better
            played.fill(0.0)
            self.failures += 1
            self.last_error = repr(error)
        self.worst_work = max(self.worst_work, self._now() - now)
        self._spin.ended(time.thread_time())
