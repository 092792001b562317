"""What the pulse costs: `python tests/speed/pulse.py [runs]`.

Processor time of the strokes alone (`Clicker.sound`) and of the engine with them, in percent of one core per second of
sound, for plain beats, for the busiest groove at 300 a minute, and for a ramp with six parts to a beat; the longest
block in which a groove is started, changed or begins a bar, against the 10.67 ms that a block of 512 lasts; and the
time and memory that the largest MIDI files take, read or refused.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.errors import BadFileError
from firmware.music.grooves import GROOVES, groove_named
from firmware.music.meter import parse_bars
from firmware.music.program import Program
from firmware.music.tempo import Curve, Stretch
from firmware.plan.midi_file import MOST_STROKES, read_midi
from firmware.plan.midi_rhythm import program_of_midi
from firmware.sound.click import Clicker
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, PulseSound, Sound, ToneSound
from firmware.units import BLOCK, RATE

RESULTS = Path(__file__).parent / "results" / "pulse.json"
FASTEST = 300 / 4
"""Whole notes a minute at 300 quarters."""
SILENCE = np.zeros(BLOCK, np.float32)

PROGRAMS = {
    "plain_92": Program(),
    "sixteenths_92": Program(groove=groove_named("straight-sixteenths")),
    "sixteenths_300": Program(curve=Curve(FASTEST), groove=groove_named("straight-sixteenths")),
    "bossa_nova_300": Program(curve=Curve(FASTEST), groove=groove_named("bossa-nova")),
    "ramp_in_six_and_4_3": Program(
        curve=Curve(15.0, (Stretch(Fraction(100), 15.0, FASTEST),)), subdivision=6, cross=(4, 3)
    ),
}


def pulse_of(program: Program, start: int = 0, run: int = 1) -> PulseSound:
    """A pulse that is on."""
    return PulseSound(on=True, start=float(start), program=program, run=run)


def cost(play: Callable[[], object], seconds: float = 20.0) -> float:
    """Percent of one core that something takes which plays one block."""
    blocks = round(seconds * RATE / BLOCK)
    begin = time.process_time()
    for _ in range(blocks):
        play()
    return 100 * (time.process_time() - begin) / (blocks * BLOCK / RATE)


def clicker_block(program: Program) -> Callable[[], object]:
    """A clicker that plays a program from its beginning."""
    clicker, position, pulse = Clicker(RATE), iter(range(0, 2**60, BLOCK)), pulse_of(program)
    return lambda: clicker.sound(pulse, 0.25, next(position), BLOCK)


def engine_block(sound: Sound) -> Callable[[], object]:
    """An engine that plays a snapshot."""
    engine = Engine()
    engine.sound = sound
    return lambda: engine.process(SILENCE)


def drone() -> DroneSound:
    """Eight tones."""
    return DroneSound(on=True, tones=tuple(ToneSound(110.0 * (1 + n / 4)) for n in range(8)), timbre="reed")


def start_times(runs: int = 60) -> list[float]:
    """Milliseconds of each block around a start or a change of groove, with an eight-tone drone sounding."""
    engine, taken = Engine(), []
    engine.sound = Sound(drone())
    for _ in range(100):
        engine.process(SILENCE)
    for run in range(runs):
        groove = GROOVES[run % len(GROOVES)]
        program = Program(parse_bars(groove.meter.text), Curve(FASTEST), groove=groove, subdivision=6)
        engine.sound = Sound(drone(), pulse_of(program, engine.position - 200, run))
        for block in range(40):
            if block == 20:
                other = replace(program, swing=Fraction(3, 2))
                engine.sound = Sound(drone(), replace(engine.sound.pulse, program=other))
            begin = time.thread_time()
            engine.process(SILENCE)
            taken.append(1000 * (time.thread_time() - begin))
    return taken


def midi_bytes(events: int, event: bytes, first: bytes = b"\0\x99\x24\x7f") -> bytes:
    """A file of so many equal events after a first one that sets the running status."""
    body = first + event * events + b"\0\xff\x2f\0"
    return b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk" + len(body).to_bytes(4, "big") + body


MIDI = {
    "ten_megabytes": lambda: midi_bytes(3_400_000, b"\x60\x24\x7f"),
    "nearly_a_million_events_in_2_mb": lambda: midi_bytes(990_000, b"\0\x01", b"\0\xd0\x01"),
    "most_strokes": lambda: midi_bytes(MOST_STROKES - 1, b"\x60\x24\x7f"),
    "most_events": lambda: midi_bytes(249_997, b"\0\xd0\x01"),
}


def midi_cost(name: str) -> dict[str, float | str]:
    """Seconds and megabytes to read or refuse a file, in a process of its own."""
    data = MIDI[name]()

    def use() -> str:
        try:
            program_of_midi(read_midi(data, name), name)
        except BadFileError as error:
            return f"refused: {error.allowed}"
        return "read"

    begin = time.process_time()
    how = use()
    seconds = time.process_time() - begin
    tracemalloc.start()
    use()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    return {"bytes": len(data), "outcome": how, "seconds": round(seconds, 3), "megabytes": round(peak, 1)}


def apart(name: str) -> dict[str, float | str]:
    """The same, run apart, so that memory is that file's own."""
    words = [sys.executable, __file__, "--midi", name]
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    found: dict[str, float | str] = json.loads(done.stdout)
    return found


def measure(runs: int) -> dict[str, object]:
    """All figures."""
    alone = {name: [cost(clicker_block(program)) for _ in range(runs)] for name, program in PROGRAMS.items()}
    busiest = pulse_of(PROGRAMS["sixteenths_300"])
    extra = []
    for _ in range(runs):
        without = cost(engine_block(Sound(drone())), 10.0)
        extra.append(cost(engine_block(Sound(drone(), busiest)), 10.0) - without)
    times = sorted(start_times())
    return {
        "machine": f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}",
        "date": time.strftime("%Y-%m-%d", time.gmtime()),
        "runs": runs,
        "clicker_percent_of_one_core": {name: round(statistics.median(found), 3) for name, found in alone.items()},
        "busiest_groove_adds_to_engine_percent": round(statistics.median(extra), 3),
        "block_around_start_or_change_ms": {
            "blocks": len(times),
            "median": round(statistics.median(times), 3),
            "worst": round(times[-1], 3),
            "block_lasts": round(1000 * BLOCK / RATE, 2),
        },
        "midi": {name: apart(name) for name in MIDI},
    }


def main() -> None:
    """Measure, print and keep the figures."""
    if sys.argv[1:2] == ["--midi"]:
        sys.stdout.write(json.dumps(midi_cost(sys.argv[2])))
        return
    figures = measure(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
    text = json.dumps(figures, indent=2) + "\n"
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
