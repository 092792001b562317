"""What `keelnote hear --catch` prints: the tonic of one long note, or tonic and mode of a few bars."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable

from firmware.heard_events import Heard
from firmware.hearing.catch import CatchState, Caught, catch_key, catch_note, hear_partials
from firmware.hearing.catch_partials import Partials
from firmware.hearing.ear import Ear
from firmware.hearing.own_stream import CleanedStream
from firmware.music.harmony import Harmony
from firmware.music.keys import Key
from firmware.music.words import Words
from firmware.units import RATE, Samples
from hardware.commands.naming import words_from


def run(args: argparse.Namespace, blocks: Iterable[tuple[Samples, Samples]], harmony: Harmony) -> int:
    """Print the key; exit code 0 even if there was none."""
    caught = caught_in(blocks, harmony)
    print(catch_json(caught) if args.json else catch_line(caught, words_from(args)))
    return 0


def caught_in(blocks: Iterable[tuple[Samples, Samples]], harmony: Harmony) -> Caught | None:
    """Catch the key from a whole recording; a tonic caught from one note keeps the harmony's mode."""
    ear, stream = Ear(RATE), CleanedStream(RATE)
    partials = Partials(stream.rate, stream.hop)
    readings: list[Heard] = []
    state = CatchState()
    for mic, own in blocks:
        readings.extend(ear.process(mic, own))
        for hop in stream.process(mic, own):
            for event in partials.add(hop):
                state = hear_partials(state, event, harmony.a4)
    return catch_note(tuple(readings), harmony.key.mode, harmony.a4) or catch_key(state.frames)


def catch_json(caught: Caught | None) -> str:
    """One JSON object: tonic, mode, confidence, and the second guess likewise; null where nothing was caught."""
    if caught is None:
        return json.dumps({"tonic": None, "mode": None, "confidence": 0.0, "second": None})
    second = _as_dict(caught.second, caught.second_confidence)
    return json.dumps(_as_dict(caught.key, caught.confidence) | {"second": second}, ensure_ascii=False)


def _as_dict(key: Key, confidence: float) -> dict[str, object]:
    return {"tonic": key.tonic.text, "mode": key.mode.name, "confidence": round(confidence, 3)}


def catch_line(caught: Caught | None, words: Words | None = None) -> str:
    """The same in words."""
    words = words or Words()
    if caught is None:
        return "no key could be told: neither one long note nor three seconds of playing"
    first = f"{words.key(caught.key.text)}, {100 * caught.confidence:.0f} % sure"
    return f"{first}; else {words.key(caught.second.text)}, {100 * caught.second_confidence:.0f} %"
