"""How fast the box answers, follows and falls silent, its loudspeaker 6 dB louder at the microphone than the player.

`python tests/speed/answer.py`. Closed loops of the whole box in a simulated room (`tests/speed/answer_scenes.py`). A
player sounds a degree 20 cents sharp, goes over to the next one at once, and stops. `first_ms` and `change_ms` run from
the beginning of the note at the player to the moment at which its exact target is asked for; `silent_ms` from the end
of the note, its release of 80 to 120 ms included, to the moment at which the answer at the loudspeaker has fallen by
40 dB for good. Sampled instruments are FluidR3 through FluidSynth (both from Debian), on two pairs of notes each; they
end when their own sound has fallen by 20 dB, since a sample goes on after its key is let go.
"""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np
import soundfile

from firmware.heard_events import Heard
from firmware.settings import Value
from firmware.units import RATE, Samples, cents_of, gain_of
from tests.speed.answer_scenes import PLAYER_DB, Adder, Hall, Take, degree_hz, note, perform, player, recorded
from tests.speed.box import machine

RESULTS = Path(__file__).parent / "results" / "answer.json"
SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
NOTE_SECONDS = 1.4
SHARP = 20.0
SETTLED = 0.4

# General MIDI programs counted from 0 (MIDI Association, General MIDI Level 1), and MIDI keys of the first note: B♭, D
# or F, each followed by the next degree of B♭ major.
SAMPLED = {
    "trumpet": (56, (58, 70)),
    "clarinet": (71, (58, 74)),
    "cello": (42, (46, 58)),
    "flute": (73, (70, 77)),
    "tuba": (58, (41, 46)),
    "choir": (52, (53, 65)),
    "solo voice": (85, (53, 65)),
}
NEXT = {10: (0, 2), 2: (4, 5), 5: (7, 9)}
"""From the pitch class of a key: semitones above B♭ of its degree, and of the next."""

SATURATED = Hall(rt60=1.2, drive=1.0, even=0.1)
"""An answer alone loses a decibel to saturation, and a tenth of its square is added."""

IN_TUNE = (10.0, 0.0)
"""The second note is exactly in tune: what the loudspeaker adds lies exactly on it."""


@dataclass(frozen=True, slots=True)
class Scene:
    """A row: two degrees of a player of a formula, in semitones above B♭3, and by how many cents he is off."""

    name: str
    timbre: str
    hall: Hall
    octave: str = "same"
    drone: bool = False
    degrees: tuple[int, int] = (0, 2)
    cents: tuple[float, float] = (SHARP, SHARP)


SCENES: tuple[Scene, ...] = (
    Scene("trumpet, room of 0.4 s", "trumpet", Hall(rt60=0.4)),
    Scene("trumpet, room of 1.2 s", "trumpet", Hall(rt60=1.2)),
    Scene("trumpet, octave lower, room of 1.2 s", "trumpet", Hall(rt60=1.2), "lower"),
    Scene("clarinet, room of 1.2 s", "clarinet", Hall(rt60=1.2)),
    Scene("flute, room of 0.8 s", "flute", Hall(rt60=0.8)),
    Scene("voice, octave lower, room of 0.8 s", "voice", Hall(rt60=0.8), "lower"),
    Scene("trumpet over the drone", "trumpet", Hall(rt60=0.8), drone=True),
    Scene("clarinet over the drone, octave lower", "clarinet", Hall(rt60=1.2), "lower", drone=True),
    Scene("trumpet far from the microphone", "trumpet", Hall(rt60=1.2, player_reverb_db=0.0)),
    Scene("trumpet, answer 12 dB louder", "trumpet", Hall(rt60=0.8, answer_db=12.0)),
    Scene("trumpet, noise at 20 dB", "trumpet", Hall(rt60=0.8, noise_db=-50.0)),
    Scene("trumpet, loudspeaker saturates", "trumpet", replace(SATURATED, rt60=0.8)),
    Scene("trumpet over the drone, loudspeaker saturates", "trumpet", SATURATED, drone=True),
    Scene("the same in tune, a third", "trumpet", SATURATED, drone=True, degrees=(0, 4), cents=IN_TUNE),
    Scene("trumpet over the drone, loudspeaker saturates, octave lower", "trumpet", SATURATED, "lower", drone=True),
    Scene(
        "the same in tune, a third, octave lower",
        "trumpet",
        SATURATED,
        "lower",
        drone=True,
        degrees=(0, 4),
        cents=IN_TUNE,
    ),
)


def figures(
    take: Take, targets: tuple[float, float], begin: float, change: float, stop: float
) -> dict[str, float | None]:
    """Delays in ms, readings in cents, and how many other targets were asked for."""

    def first(hz: float, start: float) -> float | None:
        asked = [at / RATE - start for at, one in take.wanted if one.on and abs(cents_of(one.hz / hz)) <= 0.01]
        late = [seconds for seconds in asked if seconds >= 0.0]
        return round(1000 * late[0]) if late else None

    level = take.level()[round(stop * 200) :]
    held = take.level()[round((begin + SETTLED) * 200) : round(change * 200)]
    sounding = np.flatnonzero(level > -40.0)
    heard = [e for e in take.told if isinstance(e, Heard) and begin + SETTLED < e.at / RATE < change - 0.1]
    read = np.array([cents_of(e.hz / targets[0]) for e in heard if e.hz])
    other = [one.hz for _, one in take.wanted if one.on and min(abs(cents_of(one.hz / hz)) for hz in targets) > 0.01]
    again = [at for at, one in take.wanted if one.on and at / RATE > stop + 0.3]
    return {
        "first_ms": first(targets[0], begin),
        "change_ms": first(targets[1], change),
        "silent_ms": 5.0 * float(sounding[-1] + 1) if len(sounding) else 0.0,
        "sounds_percent": round(100 * float(np.mean(held > -12.0))),
        "reading_cents": round(float(np.median(read)), 2) if len(read) else None,
        "other_targets": len(other),
        "begins_by_itself": len(again),
    }


def scene(row: Scene) -> dict[str, float | None]:
    """One player of a formula."""
    begin = 4.0 if row.drone else 0.5
    change, stop = begin + NOTE_SECONDS, begin + 2 * NOTE_SECONDS
    targets = degree_hz(row.degrees[0], 3), degree_hz(row.degrees[1], 3)
    each = zip(targets, (begin, change), row.cents, strict=True)
    notes = [note(hz, start, NOTE_SECONDS, cents) for hz, start, cents in each]
    settings: dict[str, Value] = {"answer_octave": row.octave}
    take = perform(row.hall, [player(row.timbre, *notes)], stop + 6.0, settings=settings, drone=row.drone)
    return figures(take, targets, begin, change, stop)


def midi_file(program: int, keys: tuple[int, int], seconds: float, cents: float) -> bytes:
    """Two notes one after the other, bent, in a Standard MIDI File (MIDI Association, SMF 1.0): 480 ticks are 0.5 s."""
    bend = 8192 + round(cents / 200 * 8192)
    ticks = round(seconds * 960)
    delay = bytes([0x80 | ticks >> 7, ticks & 0x7F])
    events = b"\x00" + bytes([0xC0, program]) + b"\x00" + bytes([0xE0, bend & 0x7F, bend >> 7])
    events += b"\x00" + bytes([0x90, keys[0], 100]) + delay + bytes([0x80, keys[0], 0])
    events += b"\x00" + bytes([0x90, keys[1], 100]) + delay + bytes([0x80, keys[1], 0])
    events += b"\x8f\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480) + b"MTrk" + struct.pack(">I", len(events)) + events


def sampled(program: int, keys: tuple[int, int]) -> Samples:
    """Two notes of a sampled instrument, mono, at the level of the players."""
    with tempfile.TemporaryDirectory() as folder:
        score, sound = Path(folder) / "notes.mid", Path(folder) / "notes.wav"
        score.write_bytes(midi_file(program, keys, NOTE_SECONDS, SHARP))
        quiet = ["fluidsynth", "-ni", "-R", "0", "-C", "0", "-r", str(RATE)]
        command = [*quiet, "-F", str(sound), str(SOUNDFONT), str(score)]
        subprocess.run(command, check=True, capture_output=True)
        data, _ = soundfile.read(sound, dtype="float64", always_2d=True)
    mono = data.mean(axis=1)
    steady = mono[round(0.5 * RATE) : round(1.2 * RATE)]
    return np.asarray(mono * gain_of(PLAYER_DB) / np.sqrt(np.mean(steady**2)), dtype=np.float32)


def ended(sound: Samples, least_db: float = -20.0) -> float:
    """Seconds at which a sound has fallen by so much from what it was before the last key was let go."""
    size = RATE // 100
    power = np.mean(sound[: len(sound) // size * size].reshape(-1, size).astype(np.float64) ** 2, axis=1)
    steady = power[round((2 * NOTE_SECONDS - 0.4) * 100) : round((2 * NOTE_SECONDS - 0.05) * 100)].mean()
    return float(np.flatnonzero(power > steady * 10 ** (least_db / 10)).max() + 1) / 100


def instrument(program: int, key: int, octave: str) -> dict[str, float | None]:
    """Two notes of a sampled instrument in a room of 0.8 s."""
    degrees = NEXT[key % 12]
    octaves = (key - degrees[0]) // 12 - 1
    targets = degree_hz(degrees[0], octaves), degree_hz(degrees[1], octaves)
    sound = sampled(program, (key, key + degrees[1] - degrees[0]))
    begin, players = 0.5, list[Adder]()
    players.append(recorded(sound, begin))
    stop = begin + ended(sound)
    take = perform(Hall(rt60=0.8), players, stop + 3.0, settings={"answer_octave": octave})
    return figures(take, targets, begin, begin + NOTE_SECONDS, stop)


def row(name: str, found: dict[str, float | None]) -> dict[str, object]:
    """A row of the table, printed as soon as it is there."""
    sys.stdout.write(f"{name:45} {' '.join(f'{key} {value}' for key, value in found.items())}\n")
    sys.stdout.flush()
    return {"scene": name, **found}


def spread(rows: list[dict[str, object]], key: str) -> dict[str, float]:
    """Median and worst of a figure."""
    values = [float(str(one[key])) for one in rows if one[key] is not None]
    return {"median": float(np.median(values)), "worst": max(values)}


def _hard(one: Scene) -> bool:
    return one.drone and one.hall.drive > 0


def main() -> int:
    """Measure everything and keep the table."""
    began = time.process_time()
    rows = [row(one.name, scene(one)) for one in SCENES]
    samples = [
        row(f"sampled {name}, key {key}, {octave}", instrument(program, key, octave))
        for name, (program, keys) in SAMPLED.items()
        for key in keys
        for octave in ("same", "lower")
    ]
    keys_of = ("first_ms", "change_ms", "silent_ms")
    table = {
        "date": datetime.now(UTC).date().isoformat(),
        "machine": machine(),
        "formula": {key: spread(rows, key) for key in keys_of},
        "drone_and_saturated": {
            key: spread([found for found, one in zip(rows, SCENES, strict=True) if _hard(one)], key) for key in keys_of
        },
        "sampled": {key: spread(samples, key) for key in keys_of},
        "begins_by_itself": sum(int(str(one["begins_by_itself"])) for one in rows + samples),
        "rows": rows + samples,
        "cpu_s": round(time.process_time() - began, 1),
    }
    RESULTS.write_text(json.dumps(table, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
