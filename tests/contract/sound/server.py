"""A private sound server: real PortAudio, ALSA's pulse plugin, PulseAudio null sinks, all in a folder of its own.

Used by the contract of sound cards and by the figures of `tests/speed`.
"""

from __future__ import annotations

import ctypes.util
import os
import shutil
import signal
import subprocess
import time
from pathlib import Path
from typing import Any

import numpy as np

from firmware.units import RATE, Samples

NEEDED = ("pulseaudio", "pactl", "parec", "pacat")
NULL_SINK = "module-null-sink sink_name={} rate=48000 channels=2 format=s32le norewinds=1"
SINKS = ("spk", "mic")
CARD_SINK = f"{NULL_SINK.format('card').replace('channels=2', 'channels=3')} channel_map=front-left,front-right,aux0"
CARD_SOURCE = "module-remap-source source_name=cardmic master=card.monitor remix=no channels=1 channel_map=mono"
ONE_CARD = (CARD_SINK, f"{CARD_SOURCE} master_channel_map=aux0")
"""A card as it is plugged in: its microphone and its loudspeaker run by one clock and wake the program together. Sinks
of their own wake it twice, and the block of one waits for that of the other."""


def missing() -> str:
    """Say what is not installed, empty when all is."""
    absent = [name for name in NEEDED if shutil.which(name) is None]
    if ctypes.util.find_library("portaudio") is None:
        absent.append("libportaudio2")
    if not list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        absent.append("libasound2-plugins")
    return ", ".join(absent)


class Capture:
    """What the loudspeaker plays, from now on."""

    def __init__(self, server: SoundServer) -> None:
        self._file = server.folder / f"capture-{time.monotonic_ns()}.raw"
        command = ["parec", "-d", "spk.monitor", "--format=float32le", "--rate=48000", "--channels=2"]
        with self._file.open("wb") as out:
            self._process = server.open([*command, "--latency-msec=200"], stdout=out)
        deadline = time.monotonic() + 5
        while self._file.stat().st_size == 0 and time.monotonic() < deadline:
            time.sleep(0.01)

    def samples(self) -> Samples:
        """Everything captured so far, both channels, shape (n, 2)."""
        whole = self._file.stat().st_size // 8
        return np.fromfile(self._file, dtype="<f4", count=2 * whole).reshape(-1, 2)

    def stop(self) -> Samples:
        """End, and give everything, shape (n, 2)."""
        self._process.terminate()
        self._process.wait(10)
        return self.samples()


class SoundServer:
    """PulseAudio with a loudspeaker `spk` and a microphone `mic`, both without hardware."""

    devices = "micin,spkout"
    echoing = "echo,spkout"
    """A microphone that hears the loudspeaker without any room between."""

    one_card = "cardin,cardout"
    """Both by one clock; only when it is asked for."""

    def __init__(self, folder: Path, *, one_card: bool = False) -> None:
        self.folder = folder
        self._beside: list[subprocess.Popen[bytes]] = []
        socket = folder / "socket"
        private = ("HOME", "XDG_RUNTIME_DIR", "PULSE_RUNTIME_PATH", "PULSE_STATE_PATH")
        self.client_env = {
            "PULSE_SERVER": f"unix:{socket}",
            "PULSE_COOKIE": str(folder / "cookie"),
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
        }
        self.env = os.environ | dict.fromkeys(private, str(folder)) | self.client_env
        lines = [f"load-module {NULL_SINK.format(sink)}" for sink in SINKS]
        if one_card:
            lines += [f"load-module {module}" for module in ONE_CARD]
        lines.append(f"load-module module-native-protocol-unix auth-anonymous=1 socket={socket}")
        (folder / "default.pa").write_text("\n".join(lines) + "\n")
        (folder / "asound.conf").write_text(
            "</usr/share/alsa/alsa.conf>\n"
            'pcm.micin { type pulse device "mic.monitor" hint { show on description "in" } }\n'
            'pcm.echo { type pulse device "spk.monitor" hint { show on description "what is played" } }\n'
            'pcm.spkout { type pulse device "spk" hint { show on description "out" } }\n'
            + ('pcm.cardin { type pulse device "cardmic" hint { show on description "in" } }\n' if one_card else "")
            + ('pcm.cardout { type pulse device "card" hint { show on description "out" } }\n' if one_card else "")
        )
        options = ["--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disallow-exit"]
        self._log = (folder / "log").open("wb")
        self._process = subprocess.Popen(
            ["pulseaudio", "-n", "-F", str(folder / "default.pa"), *options],
            env=self.env,
            stdout=self._log,
            stderr=self._log,
        )
        deadline = time.monotonic() + 15
        while self.pactl("list", "short", "sinks").count("null-sink") < len(SINKS):
            assert self._process.poll() is None, (folder / "log").read_text()
            assert time.monotonic() < deadline, (folder / "log").read_text()
            time.sleep(0.05)

    def hurry(self, priority: int) -> None:
        """Let all its threads run before everything of ordinary priority, as a card does; raises OSError if refused.

        The one that moves the sound of its clients takes an ordinary priority when it starts.
        """
        for thread in Path(f"/proc/{self._process.pid}/task").iterdir():
            os.sched_setscheduler(int(thread.name), os.SCHED_RR, os.sched_param(priority))

    def pactl(self, *arguments: str) -> str:
        """Run pactl and give what it says."""
        done = subprocess.run(["pactl", *arguments], env=self.env, capture_output=True, text=True, check=False)
        return done.stdout

    def open(self, command: list[str], **streams: Any) -> subprocess.Popen[bytes]:  # noqa: ANN401 - as Popen takes them
        """Run a program beside the test; it ends with the test at the latest."""
        self._beside.append(subprocess.Popen(command, env=self.env, **streams))
        return self._beside[-1]

    def end_all(self) -> None:
        """End all programs that still run beside the test."""
        for program in self._beside:
            program.terminate()
            program.wait(10)
            if program.stdout is not None:
                program.stdout.close()
        self._beside.clear()

    def capture(self) -> Capture:
        """Begin to capture the loudspeaker."""
        return Capture(self)

    def feed(self, samples: Samples) -> subprocess.Popen[bytes]:
        """Play samples, shape (n,), into the microphone, at the speed of time."""
        return self._feed(samples, "mic")

    def feed_card(self, samples: Samples) -> subprocess.Popen[bytes]:
        """The same into the microphone of the card whose sides have one clock."""
        return self._feed(samples, "card", "--channel-map=aux0", "--no-remix")

    def _feed(self, samples: Samples, *sink: str) -> subprocess.Popen[bytes]:
        command = ["pacat", "--playback", "-d", *sink, "--format=float32le", f"--rate={RATE}", "--channels=1", "--raw"]
        path = self.folder / f"feed-{time.monotonic_ns()}.raw"
        samples.astype("<f4").tofile(path)
        with path.open("rb") as sound:
            return self.open([*command, "--latency-msec=200"], stdin=sound)

    def pull_out(self) -> None:
        """Freeze both devices: no error, no callback, as when a USB sound card is pulled."""
        for sink in SINKS:
            self.pactl("suspend-sink", sink, "1")

    def hang(self) -> None:
        """Let the whole server hang: a stream on it can't even be closed."""
        self._process.send_signal(signal.SIGSTOP)

    def go_on(self) -> None:
        """Let it run again."""
        self._process.send_signal(signal.SIGCONT)

    def put_back(self) -> None:
        """Let them run again."""
        for sink in SINKS:
            self.pactl("suspend-sink", sink, "0")

    def close(self) -> None:
        """End the server."""
        self.go_on()
        self._process.terminate()
        self._process.wait(10)
        self._log.close()
