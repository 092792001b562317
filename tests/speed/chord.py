"""How well chords are read: `python -m tests.speed.chord [chords]` writes tests/speed/results/chord.json.

Each situation: so many chords of three players a degree, spread evenly over 16 cents about the degree's own pitch, in a
room with a reverberation time of 1 s. The truth of a degree is the plain mean of its players. A reading is over 1.4 s.
`told` is with the chord told, so that all its degrees are asked for; `named` is how often the chord was found among all
triads and seventh chords of the key. The drone holds the root in two octaves, on the players' own root line.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.heard_events import ChordRead
from firmware.hearing.chord_check import ChordCheck
from firmware.hearing.chord_find import chord_of
from firmware.hearing.chord_listener import ChordListener
from firmware.hearing.own_stream import CleanedStream
from firmware.units import RATE, Samples
from tests.speed.box import machine
from tests.speed.chord_scenes import ChordScene, chord_scene, drone_of, through

RESULTS: Final = Path(__file__).parent / "results" / "chord.json"
BLOCK: Final = 512
SITUATIONS: Final = (
    ("root position", {}),
    ("root position, drone at +6 dB removed", {"drone_db": 6.0}),
    ("octaves unknown (3)", {"octaves": 3}),
    ("octaves unknown (3), drone at +6 dB removed", {"octaves": 3, "drone_db": 6.0}),
    ("root position, a third of them sevenths", {"sevenths": 0.34}),
    ("root position, RT60 0.4 s", {"rt60": 0.4}),
)


def last_reading(scene: ChordScene, *, told: bool) -> ChordRead | None:
    """The reading over the full 1.4 s, or None when there was no chord."""
    stream = CleanedStream(RATE)
    check = ChordCheck(scene.harmony, told=told, rate=stream.rate, hop=stream.hop)
    read = None
    for at in range(0, len(scene.mic), BLOCK):
        for hop in stream.process(scene.mic[at : at + BLOCK], scene.own[at : at + BLOCK]):
            for one in check.add(hop):
                read = one if isinstance(one, ChordRead) and one.chord else read
    return read


def situation(count: int, **how: float) -> dict[str, object]:
    """Figures of one situation."""
    errors: list[float] = []
    asked = named = 0
    reasons: Counter[str] = Counter()
    for seed in range(count):
        scene = chord_scene(seed, **how)
        read = last_reading(scene, told=True)
        asked += len(scene.cents)
        for degree, truth in zip(read.degrees if read else (), scene.cents, strict=False):
            if degree.cents is None:
                reasons[degree.why] += 1
            else:
                errors.append(abs(degree.cents - truth))
        found = last_reading(scene, told=False)
        named += found is not None and found.chord == chord_of(scene.harmony).name
    return {
        "degrees": asked,
        "accepted_percent": round(100 * len(errors) / asked, 1),
        "median_cents": round(float(np.median(errors)), 2),
        "p95_cents": round(float(np.quantile(errors, 0.95)), 2),
        "worst_cents": round(max(errors), 2),
        "named_percent": round(100 * named / count, 1),
        "refused": dict(reasons),
    }


def cost(seconds: float = 20.0) -> dict[str, float]:
    """Processor time in per cent of a core: removal and partials all the time, and while a chord is read too."""
    scene = chord_scene(1, drone_db=6.0, seconds=seconds)
    figures = {}
    for name, attends in (("listening_percent", False), ("chord_check_percent", True)):
        listener = ChordListener(RATE)
        if attends:
            listener.attend(scene.harmony)
        seconds_spent = np.zeros(len(scene.mic) // RATE + 1)
        for at in range(0, len(scene.mic), BLOCK):
            begin = time.process_time()
            listener.process(scene.mic[at : at + BLOCK], scene.own[at : at + BLOCK])
            seconds_spent[at // RATE] += time.process_time() - begin
        figures[name] = round(100 * float(seconds_spent.mean()), 2)
        figures[name.replace("percent", "worst_second_percent")] = round(100 * float(seconds_spent.max()), 2)
    return figures


def false_chords(minutes: float) -> int:
    """How many chords are reported while only the box's own drone sounds, changing its chord each 10 s."""
    scenes = [chord_scene(seed, drone_db=6.0, seconds=0.1).harmony for seed in range(round(minutes * 6))]
    own: Samples = np.concatenate([drone_of(harmony, 10 * RATE) for harmony in scenes])
    generator = np.random.default_rng(5)
    way = np.zeros(RATE, np.float32)
    way[600] = 0.6
    way[700:] = generator.standard_normal(RATE - 700) * 10 ** (-3 * np.arange(RATE - 700) / RATE) * 0.01
    mic = (through(own, way) + 10 ** (-66 / 20) * generator.standard_normal(len(own))).astype(np.float32)
    listener = ChordListener(RATE)
    listener.attend(scenes[0])
    told = [
        one for at in range(0, len(mic), BLOCK) for one in listener.process(mic[at : at + BLOCK], own[at : at + BLOCK])
    ]
    return sum(isinstance(one, ChordRead) and bool(one.chord) for one in told)


def measure(count: int) -> dict[str, object]:
    """All figures."""
    return {
        "machine": machine(),
        "date": time.strftime("%Y-%m-%d"),
        "chords_each": count,
        "situations": {name: situation(count, **how) for name, how in SITUATIONS},
        "cost": cost(),
        "chords_reported_in_10_minutes_of_own_drone": false_chords(10.0 if count >= 20 else 1.0),
    }


def main() -> None:
    """Measure, print and keep the figures."""
    text = json.dumps(measure(int(sys.argv[1]) if len(sys.argv) > 1 else 60), indent=2) + "\n"
    RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
