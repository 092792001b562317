"""The way through the sound card and back, to one sample: `python tests/speed/sound_trip.py [openings]`.

A microphone that hears the loudspeaker without any room between (the monitor of PulseAudio's null sink), and real
PortAudio. Coded noise (no stretch like another) is played block by block and looked for in what is heard: its place is
the round trip. It is measured three times in each opening, which must agree to the sample. At last the box's own room
check measures the same way with its sweep. The result is kept from 10 openings on.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from firmware.events import Adjusted, Event
from firmware.room_events import RoomChecked
from firmware.units import BLOCK, RATE, Samples
from hardware.drivers.sound_card import PortAudioCard
from hardware.drivers.sound_devices import device_pair
from tests.contract.sound.server import SoundServer
from tests.speed.sound_rig import CLOSE, LiveBox, machine, sound_server, urgent, wait_until

RESULTS = Path(__file__).parent / "results" / "sound_trip.json"
KEPT_FROM = 10
SECONDS = 4
PIECE = 4800


class Noise:
    """Plays coded noise and keeps what is heard, block by block on one sample count."""

    def __init__(self, number: int) -> None:
        self.sent = np.random.default_rng(number).uniform(-0.3, 0.3, SECONDS * RATE).astype(np.float32)
        self.heard: list[Samples] = []

    def __call__(self, mic: Samples) -> Samples:
        at = len(self.heard) * BLOCK
        self.heard.append(mic.copy())
        block = np.zeros(BLOCK, dtype=np.float32)
        part = self.sent[at : at + BLOCK]
        block[: len(part)] = part
        return block


def place_of(piece: Samples, sound: Samples) -> int | None:
    """Where a piece of coded noise is in a sound, None if it is not there as it was."""
    for at in np.flatnonzero(np.abs(sound[: len(sound) - len(piece) + 1] - piece[0]) < CLOSE):
        if np.allclose(sound[at : at + len(piece)], piece, atol=CLOSE, rtol=0):
            return int(at)
    return None


def trips(server: SoundServer, number: int) -> tuple[list[int | None], float]:
    """Round trips at three places of one opening, samples; and the latency that PortAudio reports, both ways."""
    noise = Noise(number)
    card = PortAudioCard(device_pair(server.echoing), realtime=True)
    card.start(noise)
    wait_until(lambda: len(noise.heard) * BLOCK > SECONDS * RATE, 30)
    reported = sum(card._stream.latency) * RATE
    card.stop()
    heard = np.concatenate(noise.heard)
    starts = [RATE * place for place in range(1, SECONDS - 1)] + [(SECONDS - 1) * RATE - PIECE]
    places = [place_of(noise.sent[at : at + PIECE], heard) for at in starts]
    return [None if place is None else place - at for place, at in zip(places, starts, strict=True)], reported


def by_room_check(server: SoundServer, folder: Path) -> float:
    """The same way as the box's own room check measures it, samples."""
    box = LiveBox(server, folder, keep=False, devices=server.echoing)
    found: list[RoomChecked] = []
    handle = box.loop._box.handle

    def listen(event: Event) -> object:
        if isinstance(event, RoomChecked):
            found.append(event)
        return handle(event)

    box.loop._box.handle = listen  # type: ignore[method-assign,assignment] - the same, listened to
    box.start()
    wait_until(lambda: box.loop.now() > 2 * RATE, 30)
    box.loop.post(Adjusted(box.loop.now(), "room_check", 1))
    wait_until(lambda: found, 60)
    box.loop.stop()
    return found[0].delay_ms * RATE / 1000


def main() -> None:
    """Measure and write the figures."""
    openings = int(sys.argv[1]) if len(sys.argv) > 1 else KEPT_FROM
    urgent()
    with sound_server() as server, tempfile.TemporaryDirectory() as folder:
        found = [trips(server, number) for number in range(openings)]
        checked = by_room_check(server, Path(folder))
    each = [set(places) for places, _ in found]
    exact = [next(iter(places)) for places in each if len(places) == 1 and None not in places]
    result = {
        "openings": openings,
        "openings_that_agree_to_the_sample": len(exact),
        "round_trips_samples": sorted({trip for trip in exact if trip is not None}),
        "round_trip_ms": round(1000 * float(np.median([trip for trip in exact if trip is not None])) / RATE, 3),
        "reported_by_portaudio_samples": round(found[0][1], 1),
        "by_room_check_samples": round(checked, 2),
        **machine(),
    }
    text = json.dumps(result, indent=2) + "\n"
    if openings >= KEPT_FROM:
        RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
