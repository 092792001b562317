"""What all of hearing costs: `python -m tests.speed.hearing_cost [runs]`: processor time of each second, and memory.

One stream of blocks of 512: a room check that is learned from, a drone, a player over it, a change of chord under him,
clicks with the drone, silence. Listening are the room check, level, level of the room, onsets (while there are clicks),
ear and partials: what `hardware/desk.py` puts together while one player is followed (what a chord check costs on top is
in `tests/speed/chord.py`). Each second counts with its least over the runs, as other work on the machine only adds to
it; the simulation of the room isn't counted. Memory: what the listeners hold at most (tracemalloc, in a run of its
own), beside what Python and numpy take.
"""

from __future__ import annotations

import json
import os
import resource
import sys
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np
from scipy.signal import fftconvolve

from firmware.hearing.level import LevelMeter
from firmware.hearing.onsets_gate import OnsetsWhile
from firmware.hearing.players import PlayersListener
from firmware.hearing.room import Room
from firmware.hearing.room_listener import RoomListener
from firmware.hearing.sound_watch import BATCH, SoundWatch
from firmware.sound.engine import Engine
from firmware.sound.snapshot import PulseSound, Sound
from firmware.units import BLOCK, RATE, Samples, samples_of
from tests.speed import own_scenes as scenes
from tests.speed.box import machine

RESULTS: Final = Path(__file__).parent / "results" / "hearing_cost.json"
DRONE_FROM: Final = 5.6
PLAYER: Final = (10.0, 18.0)
CLICKS: Final = (20.0, 25.0)
SECONDS: Final = 28


def scene() -> tuple[Samples, Samples]:
    """Microphone and own sound."""
    engine = Engine()
    triad = scenes.drone(*(116.54 * ratio for ratio in (1, 1.25, 1.5, 2, 2.5, 3)))
    other = scenes.drone(*(155.56 * ratio for ratio in (1, 1.25, 1.5, 2)))
    own = scenes.played((scenes.CHECK, DRONE_FROM), (triad, 8.4), (other, 6.0), engine=engine)
    click = PulseSound(on=True, start=engine.position + 4800, run=1, level_db=-18.0)
    both = Sound(drone=other.drone, pulse=click)
    own = np.concatenate([own, scenes.played((both, 5.0), (scenes.drone(), 3.2), engine=engine)])[: SECONDS * RATE]
    players = np.zeros(len(own))
    first = samples_of(PLAYER[0])
    note = scenes.synthetic(233.08, PLAYER[1] - PLAYER[0], np.random.default_rng(1))
    players[first : first + len(note)] = 0.03 * note
    place = scenes.tail_place(0.8, 1)
    mic = place.mic(own, fftconvolve(players, place.player)[: len(own)], 1)[0]
    return mic.astype(np.float32), own


def listeners(clicks: Callable[[], bool]) -> tuple[RoomListener, tuple[Callable[[Samples, Samples], object], ...]]:
    """All that listens, the room check first."""
    players, meter, watch = PlayersListener(), LevelMeter(), SoundWatch(batch=BATCH)
    onsets = OnsetsWhile(clicks, 0)

    def learned(room: Room) -> None:
        onsets.learn(room)
        players.learn(room)

    check = RoomListener(learned=learned)
    return check, (
        check.process,
        lambda mic, _own: meter.process(mic),
        watch.process,
        onsets.process,
        players.process,
    )


def run(mic: Samples, own: Samples) -> np.ndarray:
    """Processor seconds of each second of sound."""
    at = 0
    check, listening = listeners(lambda: CLICKS[0] * RATE <= at < CLICKS[1] * RATE)
    check.check(0, round(DRONE_FROM * RATE))
    spent = np.zeros(SECONDS)
    # The clock is read once a second: reading it costs more than some blocks do.
    for second in range(SECONDS):
        begin = time.process_time()
        for at in range(-(-second * RATE // BLOCK) * BLOCK, (second + 1) * RATE, BLOCK):
            for listen in listening:
                listen(mic[at : at + BLOCK], own[at : at + BLOCK])
        spent[second] = time.process_time() - begin
    return spent


def memory(mic: Samples, own: Samples) -> float:
    """MB that the listeners hold at most."""
    tracemalloc.start()
    run(mic, own)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 2**20


def measure(runs: int) -> dict[str, object]:
    """All figures."""
    mic, own = scene()
    percent = 100 * np.min([run(mic, own) for _ in range(runs)], axis=0)
    stretches = {
        "drone alone": slice(round(PLAYER[0]) - 2, round(PLAYER[0])),
        "a player followed over the drone": slice(round(PLAYER[0]) + 1, 14),
        "a player followed after a change": slice(14, round(PLAYER[1])),
        "drone and clicks": slice(round(CLICKS[0]), round(CLICKS[1])),
        "silence": slice(SECONDS - 2, SECONDS),
    }
    return {
        "machine": machine(),
        "date": time.strftime("%Y-%m-%d"),
        "percent_of_one_core": {name: round(float(percent[part].mean()), 2) for name, part in stretches.items()},
        "following_percent": round(float(percent[round(PLAYER[0]) + 1 : round(PLAYER[1])].mean()), 2),
        "worst_second_percent": round(float(percent.max()), 2),
        "worst_second_at": int(percent.argmax()),
        "each_second_percent": [round(float(one), 1) for one in percent],
        "memory_mb": round(memory(mic, own), 1),
        "process_peak_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1),
    }


def main() -> None:
    """Measure, print and keep."""
    text = json.dumps(measure(int(sys.argv[1]) if len(sys.argv) > 1 else 5), indent=2) + "\n"
    RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
