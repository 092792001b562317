"""`keelnote hear --level`: sound level and dose of a recording, and what is wrong with its microphone."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable
from typing import Final

from firmware.errors import OutOfRangeError
from firmware.hearing.exposure import Exposure, SoundSpan, average_of
from firmware.hearing.level import LevelMeter
from firmware.hearing.sound_watch import SoundWatch
from firmware.room_events import SoundRead
from firmware.settings import setting_named
from firmware.units import RATE, Samples

CAUTION: Final = "an estimate, not a sound level meter; local rules come first"


def run(args: argparse.Namespace, blocks: Iterable[tuple[Samples, Samples]]) -> int:
    """Print the level of a recording, with a line for every half second unless it is JSON; exit code 0."""
    offset = _offset(args.level_offset)
    watch, meter = SoundWatch(), LevelMeter()
    reads: list[SoundRead] = []
    clipped = 0
    total = Exposure()
    for mic, own in blocks:
        clipped += sum(read.clipped for read in meter.process(mic))
        for read in watch.process(mic, own):
            reads.append(read)
            total = total.add(SoundSpan(read.at, read.seconds, read.mean_db, read.fast_db, read.slow_db), offset)
    found = summary(reads, total, clipped, offset)
    if args.json:
        print(json.dumps(found | {"levels": [_row(read, offset or 0.0) for read in reads]}, ensure_ascii=False))
        return 0
    print("  seconds  average     fast     slow")
    for read in reads:
        row = _row(read, offset or 0.0)
        print(f"{row['t']:9.1f}  {row['mean']:7.1f}  {row['fast']:7.1f}  {row['slow']:7.1f}")
    print(", ".join(f"{name} {value}" for name, value in found.items()))
    return 0


def summary(reads: list[SoundRead], total: Exposure, clipped: int, offset: float | None) -> dict[str, object]:
    """What is told of the whole recording."""
    hums = [read for read in reads if read.hum_hz]
    plus = offset or 0.0
    return {
        "seconds": round(total.seconds, 2),
        "unit": "dB(A)" if offset is not None else "dB re full scale, A-weighted",
        "calibrated": offset is not None,
        "mean": round(total.mean_db + plus, 2),
        "loudest_fast": round(total.loudest_db + plus, 2),
        "dose_percent": None if offset is None else round(total.dose, 4),
        "average_8h": None if offset is None or not total.dose else round(average_of(total.dose), 2),
        "clipped_seconds": round(clipped / 10, 1),
        "hum_hz": hums[-1].hum_hz if hums else None,
        "hum_db": round(hums[-1].hum_db, 1) if hums else None,
        "gain_rides": any(read.rides for read in reads),
        "caution": CAUTION,
    }


def _row(read: SoundRead, plus: float) -> dict[str, float]:
    return {
        "t": round(read.at / RATE, 3),
        "mean": round(read.mean_db + plus, 2),
        "fast": round(read.fast_db + plus, 2),
        "slow": round(read.slow_db + plus, 2),
    }


def _offset(value: float | None) -> float | None:
    """The calibration as given: None and 0 are none.

    Raises
    ------
    OutOfRangeError
        If it is outside the range of the setting.
    """
    row = setting_named("level_offset")
    if value is None or value == 0.0:
        return None
    if not row.accepts(value):
        raise OutOfRangeError("--level-offset", value, row.allowed)
    return value
