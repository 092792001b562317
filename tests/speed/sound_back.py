"""Sound after 50 pulled and hanging cards: `python tests/speed/sound_back.py [cycles]`.

The whole box on real PortAudio and PulseAudio, its drone on. In turn the devices are suspended, which is the silent
stall of a real unplug, and let run again; the whole sound server hangs, so that a stream can't even be closed, and goes
on; the devices stall for less time than the box waits. Counted is the time from when the card is whole again until its
loudspeaker's monitor gives the drone again. The result is kept from 50 cycles on.
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

from firmware.units import RATE
from tests.contract.sound.server import Capture, SoundServer
from tests.speed.sound_rig import LiveBox, machine, sound_server, wait_until

RESULTS = Path(__file__).parent / "results" / "sound_back.json"
KEPT_FROM = 50
LOUD = 0.005
STALL_SECONDS = 0.3


def sounds(box: LiveBox, capture: Capture) -> float:
    """Wait until the card plays and its monitor gives a tenth of a second of sound; how many seconds that took."""
    began = time.monotonic()
    wait_until(lambda: box.loop.card.sounding and box.card.healthy(), 30)
    since = len(capture.samples())
    wait_until(lambda: np.abs(capture.samples()[since:]).max(initial=0) > LOUD, 30)
    return time.monotonic() - began


def unplugged(server: SoundServer, box: LiveBox, pause: float) -> float:
    """Pull both devices, and put them back once the box has noticed; how long it took to notice."""
    server.pull_out()
    noticed = wait_until(lambda: not box.loop.card.sounding, 10)
    time.sleep(pause)
    server.put_back()
    return noticed


def hung(server: SoundServer, box: LiveBox, pause: float) -> float:
    """Let the whole server hang, and go on once the box has noticed."""
    server.hang()
    noticed = wait_until(lambda: not box.loop.card.sounding, 10)
    time.sleep(pause)
    server.go_on()
    return noticed


def stalled(server: SoundServer, _box: LiveBox, _pause: float) -> float:
    """Let the devices stall, for less time than the box waits."""
    server.pull_out()
    time.sleep(STALL_SECONDS)
    server.put_back()
    return 0.0


KINDS = (unplugged, hung, stalled)


def run(cycles: int, folder: Path) -> dict[str, object]:
    """All cycles; their figures."""
    seconds: dict[str, list[float]] = {kind.__name__: [] for kind in KINDS}
    noticed: list[float] = []
    generator = np.random.default_rng(50)
    with sound_server() as server:
        box = LiveBox(server, folder, keep=False, realtime=False)
        box.start()
        wait_until(lambda: box.loop.now() > RATE, 30)
        box.tap("Drone")
        for cycle in range(cycles):
            capture = server.capture()
            sounds(box, capture)
            kind = KINDS[cycle % len(KINDS)]
            noticed.append(kind(server, box, float(generator.uniform(0.0, 1.5))))
            seconds[kind.__name__].append(sounds(box, capture))
            capture.stop()
            server.end_all()
        faults, dropped = box.loop.faults, box.loop.dropped
        box.loop.stop()
    every = [second for found in seconds.values() for second in found]
    return {
        "cycles": cycles,
        "seconds_until_sound_worst": round(max(every), 3),
        "seconds_until_sound_median": round(float(np.median(every)), 3),
        **{f"{kind}_worst": round(max(found, default=0.0), 3) for kind, found in seconds.items()},
        "seconds_until_noticed_worst": round(max(noticed), 3),
        "faults": faults,
        "dropped": dropped,
    }


def main() -> None:
    """Run, and keep the figures of all cycles."""
    cycles = int(sys.argv[1]) if len(sys.argv) > 1 else KEPT_FROM
    with tempfile.TemporaryDirectory(prefix="keelnote-back-") as folder:
        found = {**run(cycles, Path(folder)), **machine()}
    text = json.dumps(found, indent=2) + "\n"
    if cycles >= KEPT_FROM:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
