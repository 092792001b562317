"""`keelnote hear --room`: what a recording of the room check tells of the room."""

from __future__ import annotations

import argparse
import dataclasses
import json
from collections.abc import Iterable

import numpy as np

from firmware.hearing.room_check import learn_room
from firmware.hearing.room_listener import told
from firmware.units import RATE, Samples

LINES_HZ = (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0)


def run(args: argparse.Namespace, blocks: Iterable[tuple[Samples, Samples]]) -> int:
    """Print what is learned from a microphone and the test signal that was played; exit code 0."""
    pairs = list(blocks)
    mic = np.concatenate([pair[0] for pair in pairs]) if pairs else np.zeros(0, np.float32)
    own = np.concatenate([pair[1] for pair in pairs]) if pairs else np.zeros(0, np.float32)
    room = learn_room(mic, own, RATE)
    event = told(room, len(mic))
    found: dict[str, object] = {
        field.name: _short(getattr(event, field.name)) for field in dataclasses.fields(event) if field.name != "at"
    }
    found |= {
        "delay_samples": round(room.delay, 2),
        "clock_sd_ppm": round(room.clock_sd_ppm, 4),
        "floor_plain_db": round(room.floor_db, 2),
        "response": [
            {
                "hz": hz,
                "db": _short(float(20 * np.log10(max(abs(room.response_at(hz)[0]), 1e-9)))),
                "removal_db": _short(float(room.removal_db(hz)[0])),
            }
            for hz in LINES_HZ
        ],
    }
    if args.json:
        print(json.dumps(found, ensure_ascii=False))
        return 0
    for name, value in found.items():
        print(f"{name:16} {value}")
    return 0


def _short(value: object) -> object:
    return round(value, 3) if isinstance(value, float) else value
