"""Real time, sample for sample: `python tests/speed/sound_exact.py [minutes [latency]]`.

The whole box on real PortAudio and PulseAudio: drone, click, ear and take at once. Every sample that the engine gave
is looked for at the loudspeaker's monitor, every sample of a coded signal (noise, no stretch like another) that a
program plays into the microphone is looked for in what the box heard, and the take is compared with that. A slip is a
place where samples are missing, doubled or different. Counted is from the first key on, 10 s after the start. The
result is kept from 30 minutes on.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import soundfile

from firmware.units import RATE, Samples
from tests.speed.sound_rig import LiveBox, Slip, begin_of, machine, slips, sound_server, urgent, wait_until

RESULTS = Path(__file__).parent / "results" / "sound_exact.json"
KEPT_FROM = 30.0
SETTLED = 10.0
"""Seconds after which the streams of the sound server have found their latency; what is counted begins then."""

LATENCY = 0.3
"""Seconds that PortAudio is asked for: the sound server is a program among others, and needs more room than a card."""

MARGIN = 1.0
"""Seconds at the end that may still be on their way."""


def coded(path: Path, seconds: int) -> Samples:
    """Noise that 24 bits hold exactly, a second at a time."""
    with path.open("wb") as out:
        for second in range(seconds):
            steps = np.random.default_rng(second).integers(-(2**21), 2**21, RATE)
            (steps / 2.0**24).astype("<f4").tofile(out)
    return np.memmap(path, dtype="<f4", mode="r")


def take_errors(folder: Path, heard: Samples) -> tuple[int, int]:
    """Samples of the take, over all its parts, and how many of them are not what the microphone heard.

    The take begins with its pre-roll, which is silent; both are laid together at the first sample that is not.
    """
    length = wrong = 0
    first: int | None = None
    for path in sorted(folder.glob("KEELNOTE/rehearsals/*/take-01*.flac")):
        with soundfile.SoundFile(path) as take:
            for block in take.blocks(RATE, dtype="float32"):
                if first is None and np.any(np.abs(block) > 1e-5):
                    first = begin_of(heard) - length - begin_of(block)
                if first is None:
                    length += len(block)
                    continue
                mic = np.asarray(heard[first + length : first + length + len(block)])
                wrong += int(np.count_nonzero(np.abs(block - mic) > 2.0**-23))
                length += len(block)
    return length, wrong


def told(name: str, found: list[Slip], compared: int) -> dict[str, object]:
    """Slips as figures; the first twenty with their places."""
    return {
        f"{name}_compared_s": round(compared / RATE, 2),
        f"{name}_slips": len(found),
        f"{name}_lost_samples": -sum(min(slip.samples, 0) for slip in found),
        f"{name}_doubled_samples": sum(max(slip.samples, 0) for slip in found),
        f"{name}_places": [[slip.at_s, slip.samples] for slip in found[:20]],
    }


def run(minutes: float, folder: Path, latency: float) -> dict[str, object]:
    """One run; its figures."""
    seconds = 60 * minutes
    spoken = coded(folder / "spoken.raw", int(seconds) + 20)
    with sound_server() as server:
        loudspeaker_path = folder / "loudspeaker.raw"
        command = ["parec", "-d", "spk.monitor", "--format=float32le", "--rate=48000", "--channels=1"]
        box = LiveBox(server, folder, latency=latency)
        with loudspeaker_path.open("wb") as out:
            server.open([*command, "--channel-map=front-left", "--no-remix", "--latency-msec=200"], stdout=out)
            time.sleep(0.5)
            box.start()
            wait_until(lambda: box.loop.now() > SETTLED * RATE, 60)
            for key in ("Take", "Drone", "Pulse", "Ear"):
                box.tap(key)
                time.sleep(0.3)  # nobody presses four keys at once
            pacat = ["pacat", "--playback", "-d", "mic", "--format=float32le", "--rate=48000", "--channels=1", "--raw"]
            with (folder / "spoken.raw").open("rb") as sound:
                server.open([*pacat, "--latency-msec=200"], stdin=sound)
            latency_ms = round(1000 * box.card.latency, 1)
            wait_until(lambda: box.loop.now() > (seconds + SETTLED + 3) * RATE, seconds + 90)
            box.tap("Take")
            time.sleep(1.0)
            box.loop.card.stop()
            time.sleep(0.5)
            box.loop.stop()
        assert box.played is not None
        assert box.heard is not None
        played, heard = box.played.close(), box.heard.close()
        loudspeaker = np.memmap(loudspeaker_path, dtype="<f4", mode="r")
    margin = int(MARGIN * RATE)
    out_slips, out_compared = slips(played[:-margin], loudspeaker, begin_of(played), begin_of(loudspeaker))
    in_slips, in_compared = slips(spoken, heard[:-margin], begin_of(spoken), begin_of(heard))
    length, wrong = take_errors(folder, heard)
    return {
        "minutes": minutes,
        "output_latency_ms": latency_ms,
        **told("loudspeaker", out_slips, out_compared),
        **told("microphone", in_slips, in_compared),
        "lost_or_doubled_samples": sum(abs(slip.samples) for slip in (*out_slips, *in_slips)),
        "take_s": round(length / RATE, 2),
        "take_wrong_samples": wrong,
        "late_callbacks": box.loop.card.lost,
        "dropped": box.loop.dropped,
        "faults": box.loop.faults,
        "worst_work_ms": round(1000 * box.card.worst_work, 2),
        "worst_gap_ms": round(1000 * box.card.worst_gap, 1),
    }


def main() -> None:
    """Run, and keep the figures of a long run."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else KEPT_FROM
    latency = float(sys.argv[2]) if len(sys.argv) > 2 else LATENCY
    was_urgent = urgent()
    with tempfile.TemporaryDirectory(prefix="keelnote-exact-") as folder:
        found = {**run(minutes, Path(folder), latency), "urgent": was_urgent, **machine()}
    text = json.dumps(found, indent=2) + "\n"
    if minutes >= KEPT_FROM:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
